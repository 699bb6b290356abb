"""The model's constants, each tested by its effect, so that a change breaks a test."""

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.condition import differing_reports, report_gaps
from apps.reckoning.grader_priors import WIDENING, GraderPriors, member_prior
from apps.reckoning.information import Inferred, newton_step
from apps.reckoning.levels import discretised_normal
from apps.reckoning.outcomes import level_shifts
from apps.reckoning.pooling import pool
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports
from apps.reckoning.tally import Tally
from apps.reckoning.visits import foretold
from tests.reckoning.simulated import simulate

LEVELS = 5


def test_how_much_sureness_widens_a_graders_spread():
    """Model section 1: sure 1.0, fairly 1.3, guess 2.0."""
    assert WIDENING == {"sure": 1.0, "fairly": 1.3, "guess": 2.0}


def test_a_grader_may_drift_by_015_between_lists():
    case = simulate(np.random.default_rng(4), boats=10, checkpoints=40)
    graders = fit(case.fleet, case.priors, case.reports, member_prior(4)).graders
    priors = graders.as_priors()
    np.testing.assert_allclose(priors.lean_sd**2 - graders.lean_sd**2, 0.15**2)
    np.testing.assert_allclose(priors.log_spread_sd**2 - graders.log_spread_sd**2, 0.15**2)


def test_the_catalogue_is_worth_50_observations_to_a_pool():
    case = simulate(np.random.default_rng(1), boats=12, checkpoints=6)
    given = (case.fleet, case.priors, case.reports, member_prior(4), np.arange(12) % 4)
    by_default, stated = pool(*given), pool(*given, strength=50.0)
    assert by_default.care_prior.tolist() == stated.care_prior.tolist()
    assert by_default.priors.mu.tolist() == stated.priors.mu.tolist()


def test_the_catalogue_is_worth_20_surveys_to_a_level():
    level, mean, sd = np.array([3, 4, 2]), np.full(3, 1.2), np.full(3, 0.9)
    kinds = np.ones((3, 1), dtype=bool)
    stated = level_shifts(level, mean, sd, kinds, strength=20.0)
    assert level_shifts(level, mean, sd, kinds).tolist() == stated.tolist()


def test_care_takes_at_most_nine_tenths_of_what_is_learned_of_a_grader():
    """All levels sound or all failed, by care class: one hundred reports tell of care alone.

    Information 1 (prior) + 100 cells; were care known to take all but a tenth of it, the variance
    would be 10 / 101.
    """
    cells = 100
    level = np.zeros((3, LEVELS, cells))
    level[0, 0] = level[1, 2] = level[2, 4] = 1.0
    every = np.arange(cells)
    tally = Tally.of(cell=every, code=np.zeros(cells, dtype=np.intp), cells=cells, codes=1)
    score = np.array([[-1.0, 0.0, 0.0, 0.0, 1.0]])
    _, variance = newton_step(
        (score,),
        np.zeros((1, 1), dtype=np.intp),
        np.ones(1),
        np.zeros(1),
        [Inferred(tally, np.array([[0.5], [0.0], [0.5]]), level)],
    )
    assert variance == pytest.approx([10 / 101])


def test_a_report_repeated_counts_each_time():
    tally = Tally.of(cell=np.array([0, 0, 1]), code=np.array([1, 1, 0]), cells=2, codes=2)
    level = np.tile(np.array([[0.5], [0.5], [0.0], [0.0], [0.0]]), 2)
    table = np.array([[1.0, 3.0, 0, 0, 0], [10.0, 30.0, 0, 0, 0]])
    cell, code = tally.entries()
    found = dict(zip(zip(cell, code, strict=True), tally.expected(table, level), strict=True))
    assert found == {(0, 1): 2 * 20.0, (1, 0): 2.0}
    assert tally.expected_counts(level)[1].tolist() == [1.0, 1.0, 0, 0, 0]
    assert tally.evidence(table)[:, 0].tolist() == [20.0, 60.0, 0, 0, 0]


@pytest.mark.parametrize(("apart", "differs"), [(0.875, False), (1.125, True)])
def test_a_report_differs_from_a_whole_level_on(apart, differs):
    """The second grader's known lean, on the grid, sets how far the report is from expected."""
    fleet = Fleet(np.full((1, 1), 30.0), np.ones((1, 1), dtype=bool))
    at_two = CheckpointPriors(*(np.array([value]) for value in (2.0, 0.0, 0.0, 0.05)))
    here = np.zeros(2, dtype=np.intp)
    reports = Reports(here, here, np.arange(2), np.array([2, 2]), np.ones(2))
    steady = np.full(2, np.log(0.6))
    graders = GraderPriors(
        np.array([0.0, -apart]), np.full(2, 1e-3), steady, np.full(2, 1e-3), slip=np.zeros(2)
    )
    belief = fit(fleet, at_two, reports, graders, calibrate=False)
    assert report_gaps(belief, reports)[1] == pytest.approx(apart, abs=0.05)
    assert differing_reports(belief, reports).tolist() == [False, differs]


def test_what_one_report_foretells_is_the_expected_outcome_given_it():
    """Bayes' rule written out over care classes and levels, for each of the five reports."""
    care = np.array([0.2, 0.5, 0.3])
    level = discretised_normal(np.array([[0.8], [1.5], [2.6]]), 0.9)  # (3, 1, 5)
    outcome = np.arange(15.0).reshape(1, 3, 5) ** 1.5
    report = discretised_normal(np.arange(5) + 0.2, 0.7)
    reports = np.repeat(np.arange(5), 400).astype(np.int8)[None]
    score = foretold(care, level, outcome, reports, report[None])
    joint = care[:, None] * level[:, 0]  # (3, 5)
    given = [
        (joint * report[:, k] * outcome[0]).sum() / (joint * report[:, k]).sum() for k in range(5)
    ]
    np.testing.assert_allclose(np.unique(score), sorted(given), rtol=1e-5)
