"""The condition score, and reports that differ."""

from dataclasses import replace

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.condition import (
    condition_score,
    differing_reports,
    look_counts,
    report_gaps,
)
from apps.reckoning.grader_priors import member_prior
from apps.reckoning.levels import mean_level
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports
from tests.reckoning.simulated import draw, simulate


@pytest.fixture(scope="module")
def case():
    return simulate(np.random.default_rng(12), boats=6, checkpoints=15, looked=0.15)


@pytest.fixture(scope="module")
def belief(case):
    return fit(case.fleet, case.priors, case.reports, member_prior(4))


def test_the_score_is_the_weighted_mean_level_turned_round(case, belief):
    weights = np.arange(15.0)
    score = condition_score(belief, case.fleet, case.reports, weights).score
    for boat, expected in enumerate(score):
        level = sum(w * mean_level(belief.level[boat, j]) for j, w in enumerate(weights))
        assert expected == pytest.approx(100 * (1 - level / (4 * weights.sum())))


def test_the_uncorrected_score_is_of_the_plain_means_of_what_was_looked_at(case, belief):
    weights = np.arange(1.0, 16.0)
    condition = condition_score(belief, case.fleet, case.reports, weights)
    for boat in range(6):
        level, seen = 0.0, 0.0
        for j, weight in enumerate(weights):
            here = (case.reports.boat == boat) & (case.reports.checkpoint == j)
            if here.any():
                level += weight * case.reports.level[here].mean()
                seen += weight
        assert condition.uncorrected[boat] == pytest.approx(100 * (1 - level / (4 * seen)))
        assert condition.coverage[boat] == pytest.approx(seen / weights.sum())


def test_the_interval_is_that_of_draws_from_the_belief(case, belief):
    weights = np.ones(15)
    condition = condition_score(belief, case.fleet, case.reports, weights)
    rng = np.random.default_rng(0)
    for boat in range(6):
        care = rng.choice(3, 20_000, p=belief.care[boat])
        level = draw(rng, belief.level_given_care[boat, care])
        score = 100 * (1 - level.mean(axis=1) / 4)
        assert condition.score[boat] == pytest.approx(score.mean(), abs=0.2)
        score += rng.uniform(-0.5, 0.5, len(score)) * 100 / (4 * 15)  # whole levels, smoothed
        assert condition.low[boat] == pytest.approx(np.quantile(score, 0.1), abs=1.0)
        assert condition.high[boat] == pytest.approx(np.quantile(score, 0.9), abs=1.0)


def test_the_true_score_lies_in_the_interval_about_as_often_as_said():
    inside = []
    for seed in range(40):
        truth = simulate(np.random.default_rng(seed), boats=10, checkpoints=30, looked=0.2)
        belief = fit(truth.fleet, truth.priors, truth.reports, member_prior(4))
        condition = condition_score(belief, truth.fleet, truth.reports, np.ones(30))
        score = 100 * (1 - truth.level.mean(axis=1) / 4)
        inside.append((condition.low <= score) & (score <= condition.high))
    assert 0.68 < np.mean(inside) < 0.9


def test_nobody_looked():
    fleet = Fleet(np.full((1, 2), 30.0), np.ones((1, 2), dtype=bool))
    priors = CheckpointPriors(*(np.full(2, value) for value in (1.0, 0.2, 0.8, 0.9)))
    none = np.zeros(0, dtype=np.intp)
    reports = Reports(none, none, none, none, np.zeros(0))
    belief = fit(fleet, priors, reports, member_prior(0))
    condition = condition_score(belief, fleet, reports, np.ones(2))
    assert condition.coverage.tolist() == [0.0]
    assert np.isnan(condition.uncorrected[0])
    assert 60 < condition.score[0] < 80  # the prior, never 100
    weightless = condition_score(belief, fleet, reports, np.zeros(2))
    assert np.isnan([weightless.score[0], weightless.low[0], weightless.coverage[0]]).all()


def test_what_does_not_apply_counts_for_nothing(case, belief):
    applies = case.fleet.applies.copy()
    unseen = look_counts(case.reports, applies.shape) == 0
    applies[unseen] = False
    fleet = Fleet(case.fleet.part_age, applies)
    belief = fit(fleet, case.priors, case.reports, member_prior(4))
    condition = condition_score(belief, fleet, case.reports, np.ones(15))
    np.testing.assert_allclose(condition.coverage, 1.0)


@pytest.mark.parametrize("weights", [np.ones(14), -np.ones(15), np.full(15, np.nan)])
def test_weights_are_checked(case, belief, weights):
    with pytest.raises(ValueError, match="weights"):
        condition_score(belief, case.fleet, case.reports, weights)


def test_looks_are_counted(case):
    looks = look_counts(case.reports, case.fleet.applies.shape)
    assert looks.sum() == len(case.reports)
    boat, checkpoint = case.reports.boat[0], case.reports.checkpoint[0]
    here = (case.reports.boat == boat) & (case.reports.checkpoint == checkpoint)
    assert looks[boat, checkpoint] == here.sum()


def looked_at(*levels, leans=(0.0, 0.0, 0.0)):
    """Three graders with known leans report on one checkpoint."""
    fleet = Fleet(np.full((1, 1), 30.0), np.ones((1, 1), dtype=bool))
    priors = CheckpointPriors(*(np.array([value]) for value in (2.0, 0.0, 0.0, 1.5)))
    graders = member_prior(len(leans))
    graders = replace(graders, lean_mean=np.array(leans), lean_sd=0.05 * graders.lean_sd)
    here = np.zeros(len(levels), dtype=np.intp)
    reports = Reports(here, here, np.arange(len(levels)), np.array(levels), np.ones(len(levels)))
    return fit(fleet, priors, reports, graders, calibrate=False), reports


def test_a_report_two_levels_from_the_others_differs():
    belief, reports = looked_at(1, 1, 1, 1, 3, leans=np.zeros(5))
    assert differing_reports(belief, reports).tolist() == [False] * 4 + [True]
    assert report_gaps(belief, reports)[4] > 1.5


def test_a_known_lean_is_no_difference():
    belief, reports = looked_at(1, 1, 2, leans=(0.0, 0.0, 1.0))
    assert not differing_reports(belief, reports).any()
    assert report_gaps(belief, reports)[2] == pytest.approx(0.0, abs=0.1)


def test_nor_are_the_ends_of_the_scale():
    """A harsh grader cannot say worse than failed."""
    belief, reports = looked_at(4, 4, 4, leans=(0.0, 0.0, 1.5))
    assert not differing_reports(belief, reports).any()


def test_alone_there_is_nobody_to_differ_from():
    belief, reports = looked_at(4)
    assert not differing_reports(belief, reports).any()
