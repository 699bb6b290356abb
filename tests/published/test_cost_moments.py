"""Sums of uncertain costs against published ones.

Sources, each beside its test. The model's own correlation comes from what costs share: a yard-rate
factor, a care class, a checkpoint.
"""

import numpy as np
import pytest

from apps.reckoning.costs import YARD_RATE_SD, Purchase, moments, simulate
from tests.reckoning.cost_cases import CARE, NO_ENABLING, certain, fixed, prices, work

NOTHING = Purchase(asking=0.0)
ALWAYS = [1] * 5


def all_needed(jobs):
    return work(jobs, NO_ENABLING, [(0, job, ALWAYS, 1) for job in range(len(jobs))])


@pytest.mark.parametrize(
    ("count", "sd", "mean", "variance"),
    [
        # Fenton (1960), IRE Trans. Commun. Syst. 8(1), 57-67: mean and variance of a sum of
        # independent lognormals, which his method matches; values computed, scipy agrees.
        (2, 1.0, 3.297442541400, 9.341548540943),
        (10, 1.0, 16.487212707001, 46.707742704716),
        (10, 0.5, 11.331484530668, 3.646958540124),
    ],
)
def test_sum_of_independent_lognormals(count, sd, mean, variance):
    each = np.exp(sd**2 / 2)  # mean of a lognormal whose logarithm has mean 0
    quoted = prices([0] * count, [each] * count, [0] * count, quoted=True, quote_sd=sd)
    result = moments(CARE, certain(0), all_needed(quoted), NOTHING)
    assert result.work_mean == pytest.approx(mean)
    assert result.work_sd**2 == pytest.approx(variance)


def test_sum_of_two_unlike_lognormals():
    """ln 110 and ln 100, sigma .25 and .15: the case of R's lognorm vignette, moments computed."""
    each = np.array([110, 100]) * np.exp(np.array([0.25, 0.15]) ** 2 / 2)
    quoted = prices([0, 0], each, [0, 0], quoted=True, quote_sd=[0.25, 0.15])
    result = moments(CARE, certain(0), all_needed(quoted), NOTHING)
    assert result.work_mean == pytest.approx(214.623126747263, rel=1e-12)
    assert result.work_sd**2 == pytest.approx(1063.441586645, rel=1e-9)


def test_quantiles_of_a_sum_of_lognormals():
    """n = 10, sigma = 0.5: P10, P50, P90 of 2,000,000 independent draws, computed."""
    each = np.exp(0.125)
    quoted = prices([0] * 10, [each] * 10, [0] * 10, quoted=True, quote_sd=0.5)
    draws = simulate(CARE, certain(0), all_needed(quoted), NOTHING, seed=5)
    assert np.quantile(draws.work_cost, [0.1, 0.5, 0.9]) == pytest.approx(
        [9.032, 11.166, 13.844], abs=0.12
    )


@pytest.mark.parametrize(("count", "underestimate"), [(10, 40.2), (30, 61.7), (100, 78.1)])
def test_spread_missed_by_taking_correlated_costs_for_independent(count, underestimate):
    """100 (1 - 1 / sqrt(1 + (n - 1) rho)) per cent at rho = 0.2.

    Book (1999), "Why correlation matters in cost estimating", repeated in the NASA and joint agency
    cost handbooks (from memory; the formula recomputed). n equal jobs of labour only, whose spread
    is set so that the common yard-rate factor gives them a correlation of 0.2 each pair.
    """
    mean, rho = 1_000.0, 0.2
    shared = (YARD_RATE_SD * mean) ** 2
    own = (shared / rho - shared) / (1 + YARD_RATE_SD**2)
    half = np.sqrt(7 * own)  # of a symmetrical PERT beta, whose variance is half^2 / 7
    # One checkpoint may call for 10 remedies at most, so spread them over checkpoints.
    jobs = prices([mean - half] * count, [mean] * count, [mean + half] * count, labour_share=1.0)
    links = [(job // 10, job, ALWAYS, 1) for job in range(count)]
    boat = work(jobs, NO_ENABLING, links)
    result = moments(CARE, certain(*[0] * (count // 10)), boat, NOTHING)
    one = moments(
        CARE,
        certain(0),
        all_needed(prices([mean - half], [mean], [mean + half], labour_share=1.0)),
        NOTHING,
    )
    independent = np.sqrt(count) * one.work_sd
    missed = 100 * (1 - independent / result.work_sd)
    assert missed == pytest.approx(underestimate, abs=0.05)


def test_correlated_roll_up():
    """Means 10, 15, 20, variances 4, 9, 16, correlations .5, .3, .4: total 45, variance 49.4.

    R package PRA 0.4.0, book, chapter "Second Moment Method" (printed output, read). One checkpoint
    calls for three jobs whose extents at its five levels have these moments and correlations.
    """
    mean, sd = np.array([10.0, 15.0, 20.0]), np.array([2.0, 3.0, 4.0])
    correlation = np.array([[1, 0.5, 0.3], [0.5, 1, 0.4], [0.3, 0.4, 1]])
    # Five equally likely levels carry four independent contrasts; three are enough.
    contrasts = np.array(
        [[-2, -1, 0, 1, 2], [2, -1, -2, -1, 2], [-1, 2, 0, -2, 1]], float
    )  # orthogonal polynomials, Fisher & Yates
    contrasts /= np.sqrt((contrasts**2).mean(axis=1, keepdims=True))
    extents = mean[:, None] + sd[:, None] * (np.linalg.cholesky(correlation) @ contrasts)
    boat = work(fixed(1, 1, 1), NO_ENABLING, [(0, job, ALWAYS, extents[job]) for job in range(3)])
    level = np.full((3, 1, 5), 0.2)
    result = moments(CARE, level, boat, NOTHING)
    assert result.work_mean == pytest.approx(45)
    assert result.work_sd**2 == pytest.approx(49.4)
    assert result.work_sd == pytest.approx(7.03, abs=0.005)
    draws = simulate(CARE, level, boat, NOTHING, seed=2)
    assert draws.work_cost.mean() == pytest.approx(45, abs=4 * 7.03 / np.sqrt(len(draws)))
    assert draws.work_cost.var() == pytest.approx(49.4, rel=0.05)
