"""Raters: priors on the grid, their reports, and the coverage of intervals."""

from dataclasses import replace

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import (
    DRIFT,
    LEANS,
    SPREADS,
    GraderPriors,
    member_prior,
    surveyor_prior,
)
from apps.reckoning.graders import GraderModel
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.reckoning.reporting import SLIP
from tests.reckoning.simulated import simulate


def unseen(priors):
    """Raters who reported nothing."""
    model = GraderModel(priors, np.array([1.0]))
    return model.posterior(model.start(), ())


def test_graders_who_reported_nothing_are_their_prior():
    graders = unseen(GraderPriors.joined([member_prior(2), surveyor_prior()]))
    np.testing.assert_allclose(graders.weights.sum(axis=(1, 2)), 1.0)
    np.testing.assert_allclose(graders.lean_mean, 0.0, atol=1e-12)
    np.testing.assert_allclose(graders.lean_sd, [0.5, 0.5, 0.15])
    np.testing.assert_allclose(graders.log_spread_mean, np.log([0.6, 0.6, 0.3]), atol=1e-6)
    np.testing.assert_allclose(graders.log_spread_sd, [0.35, 0.35, 0.25])


def test_the_grid_holds_the_priors_it_was_made_for():
    """Mean and standard deviation of the weights themselves, against the normal they stand for."""
    weights = unseen(GraderPriors.joined([member_prior(), surveyor_prior()])).weights
    lean = weights.sum(axis=2)
    log_spread = weights.sum(axis=1)
    np.testing.assert_allclose(np.sqrt(lean @ LEANS**2), [0.5, 0.15], rtol=0.02)
    mean = log_spread @ np.log(SPREADS)
    sd = np.sqrt(log_spread @ np.log(SPREADS) ** 2 - mean**2)
    np.testing.assert_allclose(mean, np.log([0.6, 0.3]), atol=0.05)
    np.testing.assert_allclose(sd, [0.35, 0.25], rtol=0.15)  # the grid cuts a spread below 0.2


def test_one_grader_with_known_levels_is_bayes_rule_on_the_grid():
    model = GraderModel(member_prior(), np.array([1.0, 2.0]))
    counts = np.zeros((2, LEVELS, LEVELS))  # widening, reported, true
    counts[0, 3, 2], counts[0, 1, 1], counts[1, 4, 2] = 4, 1, 2
    after = model.update(counts.reshape(-1, LEVELS))
    before = model.start().weights.reshape(len(LEANS), len(SPREADS))
    likelihood = np.empty_like(before)
    for i, lean in enumerate(LEANS):
        for j, spread in enumerate(SPREADS):
            slipped, meant = SLIP / LEVELS, 1 - SLIP
            likelihood[i, j] = (
                (meant * discretised_normal(2 + lean, spread)[3] + slipped) ** 4
                * (meant * discretised_normal(1 + lean, spread)[1] + slipped)
                * (meant * discretised_normal(2 + lean, 2 * spread)[4] + slipped) ** 2
            )
    joint = before * likelihood
    np.testing.assert_allclose(after.weights[0], (joint / joint.sum()).ravel(), 1e-9, 1e-90)
    weights = after.weights.reshape(before.shape)
    divergence = np.sum(weights * (np.log(weights) - np.log(before)))
    assert after.divergence == pytest.approx(divergence, rel=1e-9)


def test_how_a_grader_reports():
    probabilities = unseen(GraderPriors.joined([member_prior(), surveyor_prior()]))
    report = probabilities.report_probabilities()
    guess = probabilities.report_probabilities(2.0)
    assert report.shape == (2, LEVELS, LEVELS)
    np.testing.assert_allclose(report.sum(axis=2), 1.0)
    right, right_guess = (np.diagonal(r, axis1=1, axis2=2) for r in (report, guess))
    assert np.all(right[1] > right[0])  # a surveyor is right more often
    assert np.all(right > right_guess)  # and anybody less often when guessing


def test_a_lean_shows_in_the_reports():
    harsh = replace(surveyor_prior(), lean_mean=np.array([1.0]))
    report = unseen(harsh).report_probabilities()[0] @ np.arange(LEVELS)
    np.testing.assert_allclose(report[:3], [1, 2, 3], atol=0.05)
    assert report[4] < 4.0  # nobody can report worse than failed


def test_leans_and_spreads_are_recovered_with_intervals_that_cover():
    """80% intervals over 60 simulated lists of three sizes; the limits allow for 240 graders."""
    covered, error = [], []
    for seed in range(60):
        boats, checkpoints = ((6, 40), (12, 40), (25, 60))[seed % 3]
        case = simulate(np.random.default_rng(seed), boats=boats, checkpoints=checkpoints)
        graders = fit(case.fleet, case.priors, case.reports, member_prior(4)).graders
        for interval, truth in (
            (graders.lean_interval(), case.lean),
            (graders.spread_interval(), case.spread),
        ):
            covered.append((interval[:, 0] < truth) & (truth < interval[:, 1]))
        error.append(graders.lean_mean - case.lean)
    lean, spread = np.mean(covered[::2]), np.mean(covered[1::2])
    assert 0.72 < lean < 0.88
    assert 0.72 < spread < 0.88
    assert np.sqrt(np.mean(np.square(error))) < 0.15


def test_a_wider_interval_holds_more():
    graders = unseen(member_prior())
    narrow, wide = graders.lean_interval(0.5)[0], graders.lean_interval(0.95)[0]
    np.testing.assert_allclose(wide, [-0.98, 0.98], atol=0.005)  # 1.96 sd
    assert wide[0] < narrow[0] < narrow[1] < wide[1]
    assert np.all(graders.spread_interval() > 0)


def test_what_many_graders_have_in_common_is_not_counted_as_learned():
    """One boat that everybody calls bad: they may all be harsh, so it stays open."""
    case = simulate(np.random.default_rng(4), boats=1, checkpoints=60, looked=1.0)
    many = simulate(np.random.default_rng(4), boats=30, checkpoints=60, looked=1.0)
    one_boat = fit(case.fleet, case.priors, case.reports, member_prior(4)).graders
    fleet = fit(many.fleet, many.priors, many.reports, member_prior(4)).graders
    assert np.all(one_boat.lean_sd > 3 * fleet.lean_sd)


def test_known_graders_as_priors_may_have_drifted():
    case = simulate(np.random.default_rng(4), boats=10, checkpoints=40)
    graders = fit(case.fleet, case.priors, case.reports, member_prior(4)).graders
    priors = graders.as_priors()
    np.testing.assert_allclose(priors.lean_mean, graders.lean_mean)
    np.testing.assert_allclose(priors.lean_sd**2, graders.lean_sd**2 + DRIFT**2)
    np.testing.assert_allclose(priors.log_spread_sd**2, graders.log_spread_sd**2 + DRIFT**2)


def test_priors_are_joined_in_the_order_given():
    joined = GraderPriors.joined([member_prior(2), surveyor_prior(), member_prior()])
    assert len(joined) == 4
    assert joined.lean_sd.tolist() == [0.5, 0.5, 0.15, 0.5]


@pytest.mark.parametrize("field", ["lean_sd", "log_spread_sd"])
def test_a_standard_deviation_must_be_positive(field):
    with pytest.raises(ValueError, match=f"{field}: must be positive"):
        replace(member_prior(), **{field: np.array([0.0])})


def test_priors_need_one_value_each():
    with pytest.raises(ValueError, match="lean_sd: need one value for each grader"):
        replace(member_prior(2), lean_sd=np.array([0.5]))
