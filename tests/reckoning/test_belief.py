"""The fit compared with brute force, and its meaning."""

import doctest
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from apps.reckoning import belief as belief_module
from apps.reckoning import estimates
from apps.reckoning.belief import Belief, fit
from apps.reckoning.grader_priors import (
    LEANS,
    SPREADS,
    WIDENING,
    GraderPriors,
    member_prior,
    surveyor_prior,
)
from apps.reckoning.levels import LEVELS, discretised_normal, mean_level
from apps.reckoning.priors import (
    CARE_PRIOR,
    CARE_SHIFT,
    CheckpointPriors,
    Fleet,
    Reports,
    prior_levels,
)
from apps.reckoning.reporting import SLIP
from tests.reckoning.simulated import simulate


def test_the_worked_example_in_the_module():
    assert doctest.testmod(belief_module) == (0, 10)


def fleet_of(boats=1, checkpoints=2, age=30.0):
    shape = (boats, checkpoints)
    return Fleet(part_age=np.full(shape, age), applies=np.ones(shape, dtype=bool))


def priors_of(checkpoints=2, mu=1.2, age=0.2, care=0.8, sd=0.9):
    return CheckpointPriors(*(np.full(checkpoints, value) for value in (mu, age, care, sd)))


def reports_of(*rows):
    """Rows of boat, checkpoint, grader, level and, if not sure, widening."""
    boat, checkpoint, grader, level = (
        np.array([row[n] for row in rows], dtype=np.intp) for n in range(4)
    )
    widening = np.array([row[4] if len(row) > 4 else 1.0 for row in rows])
    return Reports(boat, checkpoint, grader, level, widening)


def fitted(*rows, fleet=None, priors=None, graders=None, **options) -> Belief:
    return fit(
        fleet or fleet_of(),
        priors or priors_of(),
        reports_of(*rows),
        graders or member_prior(3),
        **options,
    )


def grid_weights(lean_mean, lean_sd, log_spread_mean, log_spread_sd):
    """A grader's prior on the grid, written out."""
    weights = np.empty((len(LEANS), len(SPREADS)))
    for (i, lean), (j, spread) in product(enumerate(LEANS), enumerate(SPREADS)):
        z = (lean - lean_mean) / lean_sd, (np.log(spread) - log_spread_mean) / log_spread_sd
        weights[i, j] = np.exp(-0.5 * (z[0] ** 2 + z[1] ** 2))
    return weights / weights.sum()


def expected_log_likelihood(weights, report, level, widening):
    """E[log P(k | t)] over a grader's grid, written out."""
    return sum(
        weights[i, j]
        * np.log(
            (1 - SLIP) * discretised_normal(level + lean, spread * widening)[report] + SLIP / LEVELS
        )
        for (i, lean), (j, spread) in product(enumerate(LEANS), enumerate(SPREADS))
    )


ROWS = [(0, 0, 0, 3), (0, 0, 1, 2, 2.0), (0, 1, 0, 1, 1.3), (0, 1, 2, 0), (0, 1, 2, 1)]


def test_with_graders_at_their_prior_it_is_the_exact_posterior_by_enumeration():
    belief = fitted(*ROWS, calibrate=False)
    weights = grid_weights(0.0, 0.5, np.log(0.6), 0.35)
    joint = np.zeros((3, LEVELS, LEVELS))
    for c, first, second in product(range(3), range(LEVELS), range(LEVELS)):
        probability = CARE_PRIOR[c]
        for level in (first, second):
            probability *= discretised_normal(1.2 + 0.8 * CARE_SHIFT[c], 0.9)[level]
        for _, checkpoint, _, report, *widening in ROWS:
            probability *= np.exp(
                expected_log_likelihood(
                    weights, report, (first, second)[checkpoint], widening[0] if widening else 1.0
                )
            )
        joint[c, first, second] = probability
    np.testing.assert_allclose(belief.bound, [np.log(joint.sum())], rtol=1e-12)
    joint /= joint.sum()
    np.testing.assert_allclose(belief.care[0], joint.sum(axis=(1, 2)), rtol=1e-10)
    np.testing.assert_allclose(belief.level[0, 0], joint.sum(axis=(0, 2)), rtol=1e-10)
    np.testing.assert_allclose(belief.level[0, 1], joint.sum(axis=(0, 1)), rtol=1e-10)
    given_care = joint.sum(axis=2) / joint.sum(axis=(1, 2))[:, None]
    np.testing.assert_allclose(belief.level_given_care[0, :, 0], given_care, rtol=1e-10)


def test_the_last_bound_is_the_evidence_bound_by_its_definition():
    """E_q[log p(reports, levels, care, graders)] - E_q[log q], term by term from the belief."""
    belief = fitted(*ROWS)
    care, level = belief.care[0], belief.level_given_care[0]
    prior = prior_levels(fleet_of(), priors_of())[0]
    bound = np.sum(care * (np.log(CARE_PRIOR) - np.log(care)))
    bound += np.einsum("c,cjt,cjt->", care, level, np.log(prior) - np.log(level))
    before = grid_weights(0.0, 0.5, np.log(0.6), 0.35)
    for after in belief.graders.weights:
        bound -= np.sum(after * (np.log(after) - np.log(before)))
    for boat, checkpoint, grader, report, *widening in ROWS:
        factor = widening[0] if widening else 1.0
        for t in range(LEVELS):
            bound += belief.level[boat, checkpoint, t] * expected_log_likelihood(
                belief.graders.weights[grader], report, t, factor
            )
    assert belief.bound[-1] == pytest.approx(bound, rel=1e-10)


def test_the_bound_never_falls_and_the_fit_converges():
    case = simulate(np.random.default_rng(3), boats=25, checkpoints=75, graders=6, looked=0.45)
    belief = fit(case.fleet, case.priors, case.reports, member_prior(6))
    assert belief.converged
    assert belief.rounds == len(belief.bound)
    assert np.diff(belief.bound).min() > -1e-8 * abs(belief.bound[-1])


def test_it_says_so_when_the_rounds_run_out():
    case = simulate(np.random.default_rng(3), boats=6, checkpoints=20)
    belief = fit(case.fleet, case.priors, case.reports, member_prior(4), max_rounds=3)
    assert not belief.converged
    assert belief.rounds == 3


def test_without_reports_the_belief_is_the_prior():
    belief = fitted()
    prior = prior_levels(fleet_of(), priors_of())
    np.testing.assert_allclose(belief.care, [CARE_PRIOR])
    np.testing.assert_allclose(belief.level_given_care, prior, rtol=1e-12)
    np.testing.assert_allclose(belief.level[0], np.einsum("c,cjt->jt", CARE_PRIOR, prior[0]))
    assert belief.converged


def test_a_list_without_graders_or_boats_or_checkpoints_is_no_error():
    assert fitted(graders=member_prior(0)).level.shape == (1, 2, LEVELS)
    assert fitted(fleet=fleet_of(boats=0)).level.shape == (0, 2, LEVELS)
    empty = fitted(fleet=fleet_of(checkpoints=0), priors=priors_of(0))
    np.testing.assert_allclose(empty.care, [CARE_PRIOR])


def test_trouble_seen_raises_the_likelihood_of_trouble_nobody_could_see():
    bad, good = (fitted((0, 0, 0, level), (0, 0, 1, level)) for level in (4, 0))
    unseen_before = mean_level(fitted().level[0, 1])
    assert bad.care[0, 2] > CARE_PRIOR[2] > good.care[0, 2]
    assert mean_level(bad.level[0, 1]) > unseen_before > mean_level(good.level[0, 1])


def test_a_checkpoint_nobody_looked_at_is_its_prior_given_the_boats_care_class():
    belief = fitted((0, 0, 0, 4), (0, 0, 1, 4))
    prior = prior_levels(fleet_of(), priors_of())[0, :, 1]
    np.testing.assert_allclose(belief.level_given_care[0, :, 1], prior, rtol=1e-12)
    np.testing.assert_allclose(belief.level[0, 1], belief.care[0] @ prior, rtol=1e-12)


def test_boats_say_nothing_of_one_another_while_graders_are_known():
    fleet = fleet_of(boats=2)
    alone = fitted((0, 0, 0, 3), fleet=fleet, calibrate=False)
    both = fitted((0, 0, 0, 3), (1, 0, 0, 0), fleet=fleet, calibrate=False)
    np.testing.assert_allclose(both.level[0], alone.level[0], rtol=1e-12)


def test_a_renewed_part_is_believed_better_than_the_boat_it_is_on():
    fleet = replace(fleet_of(), part_age=np.array([[40.0, 5.0]]))
    old, renewed = mean_level(fitted(fleet=fleet).level[0])
    assert old - renewed == pytest.approx(0.2 * 3.5, abs=0.15)  # age 0.2 a decade, ends of scale


def test_a_sure_report_weighs_more_than_a_guess():
    sure, fairly, guess = (
        mean_level(fitted((0, 0, 0, 4, WIDENING[how])).level[0, 0])
        for how in ("sure", "fairly", "guess")
    )
    assert sure > fairly > guess > mean_level(fitted().level[0, 0])


def test_a_surveyor_outweighs_a_member():
    graders = GraderPriors.joined([member_prior(), surveyor_prior()])
    worse, better = (
        mean_level(fitted((0, 0, 0, 4 - level), (0, 0, 1, level), graders=graders).level[0, 0])
        for level in (3, 1)
    )
    assert worse - better > 0.5


def test_a_harsh_grader_is_found_out_and_corrected():
    case = simulate(
        np.random.default_rng(8), boats=20, checkpoints=50, lean=np.array([0.9, 0, 0, 0])
    )
    belief = fit(case.fleet, case.priors, case.reports, member_prior(4))
    known = fit(case.fleet, case.priors, case.reports, member_prior(4), calibrate=False)
    assert belief.graders.lean_mean[0] == pytest.approx(0.9, abs=0.15)

    def error(level):
        return np.sqrt(np.mean((mean_level(level) - case.level) ** 2))

    assert error(belief.level) < error(known.level)


def test_with_calibrate_off_the_graders_stay_at_their_priors():
    belief = fitted(*ROWS, calibrate=False)
    np.testing.assert_allclose(belief.graders.lean_mean, 0.0, atol=1e-12)
    np.testing.assert_allclose(belief.graders.lean_sd, 0.5)
    assert belief.converged
    assert belief.rounds == 1


def test_what_does_not_apply_has_no_level_and_no_say():
    fleet = replace(fleet_of(), applies=np.array([[True, False]]))
    belief = fitted((0, 0, 0, 3), fleet=replace(fleet, part_age=np.array([[30.0, np.nan]])))
    one = fitted((0, 0, 0, 3), fleet=fleet_of(checkpoints=1), priors=priors_of(1))
    assert not belief.level[0, 1].any()
    assert not belief.level_given_care[0, :, 1].any()
    np.testing.assert_allclose(belief.level[0, 0], one.level[0, 0], rtol=1e-10)
    np.testing.assert_allclose(belief.care, one.care, rtol=1e-10)


def test_batches_of_boats_add_up_to_the_same(monkeypatch):
    case = simulate(np.random.default_rng(5), boats=11, checkpoints=13)
    whole = fit(case.fleet, case.priors, case.reports, member_prior(4))
    monkeypatch.setattr(estimates, "BATCH", 40)  # three boats at a time, and two left over
    parts = fit(case.fleet, case.priors, case.reports, member_prior(4))
    assert parts.rounds == whole.rounds
    np.testing.assert_allclose(parts.level, whole.level, atol=1e-9)
    np.testing.assert_allclose(parts.graders.lean_mean, whole.graders.lean_mean, atol=1e-9)
    np.testing.assert_allclose(parts.graders.lean_sd, whole.graders.lean_sd, atol=1e-9)
    np.testing.assert_allclose(parts.bound, whole.bound, rtol=1e-12)


def test_hundreds_of_contradicting_reports_do_not_break_it():
    rows = [(0, n % 2, n % 3, 4 * (n % 5 == 0)) for n in range(600)]
    belief = fitted(*rows, priors=priors_of(sd=0.05))
    assert np.isfinite(belief.bound).all()
    np.testing.assert_allclose(belief.level.sum(axis=-1), 1.0, rtol=1e-12)


def test_the_same_input_gives_the_same_figures():
    case = simulate(np.random.default_rng(6), boats=8, checkpoints=20)
    first, second = (fit(case.fleet, case.priors, case.reports, member_prior(4)) for _ in range(2))
    assert np.array_equal(first.level, second.level)
    assert np.array_equal(first.graders.lean_sd, second.graders.lean_sd)


def test_the_care_prior_can_be_the_clubs():
    neglectful = fitted(care_prior=(0.1, 0.3, 0.6))
    np.testing.assert_allclose(neglectful.care, [[0.1, 0.3, 0.6]])
    assert mean_level(neglectful.level[0, 0]) > mean_level(fitted().level[0, 0])


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ((1, 0, 0, 0), r"boat\[1\]: must be from 0 to 0"),
        ((-1, 0, 0, 0), r"boat\[1\]"),
        ((0, 2, 0, 0), r"checkpoint\[1\]: must be from 0 to 1"),
        ((0, 0, 3, 0), r"grader\[1\]: must be from 0 to 2"),
        ((0, 0, 0, 5), r"level\[1\]: must be from 0 to 4"),
        ((0, 0, 0, -1), r"level\[1\]"),
        ((0, 0, 0, 0, 0.0), r"widening\[1\]: must be positive"),
        ((0, 0, 0, 0, np.nan), r"widening\[1\]"),
    ],
)
def test_a_report_outside_the_list_is_refused_with_its_place(row, message):
    with pytest.raises(ValueError, match=message):
        fitted((0, 0, 0, 0), row)


def test_a_report_on_what_does_not_apply_is_refused():
    fleet = replace(fleet_of(), applies=np.array([[True, False]]))
    with pytest.raises(ValueError, match=r"checkpoint\[0\]: must be one that applies"):
        fitted((0, 1, 0, 2), fleet=fleet)


def test_more_degrees_of_sureness_than_can_be_tabulated_are_refused():
    rows = [(0, 0, 0, 0, 1.0 + n / 100) for n in range(65)]
    with pytest.raises(ValueError, match=r"widening: must be one of at most 64"):
        fitted(*rows)


@pytest.mark.parametrize("care_prior", [(0.5, 0.5), (0.5, 0.6, 0.2), (1.2, -0.4, 0.2)])
def test_a_care_prior_must_be_a_distribution(care_prior):
    with pytest.raises(ValueError, match="care_prior"):
        fitted(care_prior=care_prior)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("sd", [0.9, 0.0]),
        ("mu", [np.nan, 1.0]),
        ("care", [0.5]),
        ("breakage", [0.02, 1.0]),
        ("breakage", [-0.1, 0.0]),
        ("breakage", [0.02]),
    ],
)
def test_checkpoint_priors_are_checked(field, value):
    with pytest.raises(ValueError, match=field):
        replace(priors_of(), **{field: np.array(value)})


def test_a_fleet_needs_an_age_where_a_checkpoint_applies():
    with pytest.raises(ValueError, match=r"part_age\[0\]\[1\]: must be a number of years"):
        replace(fleet_of(), part_age=np.array([[30.0, np.nan]]))


def test_priors_for_other_checkpoints_are_refused():
    with pytest.raises(ValueError, match="mu: need one for each checkpoint"):
        fitted(priors=priors_of(3))
