"""Surplus, regret and the weighted median."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.stats import norm

from apps.reckoning.utility import (
    Cost,
    Regretted,
    overrun,
    overrun_penalty,
    regretted_surplus,
    surplus,
    weighted_median,
)
from tests.reckoning.drawn import cost_of_draws

money = st.floats(0, 1e6)


def test_surplus_and_overrun():
    assert surplus(50, [40, 60]) == pytest.approx([10, -10])
    assert overrun([40, 60], 45) == pytest.approx([0, 15])


@given(hnp.arrays(float, 20, elements=money), money, money, money, st.floats(0, 0.99))
def test_regret_only_takes_away_and_expectation_is_the_mean(
    upfront, later, valuation, budget, confidence
):
    penalty, all_in = overrun_penalty(confidence), upfront + later
    drawn = regretted_surplus(valuation, all_in, upfront, budget, penalty)
    assert np.all(drawn <= surplus(valuation, all_in))
    cost = cost_of_draws(upfront, all_in)
    close = {"rel": 1e-6, "abs": 1e-3}
    assert valuation - cost.regretted(budget, penalty).mean == pytest.approx(drawn.mean(), **close)
    assert cost.utility(valuation, budget, penalty) == pytest.approx(drawn, **close)


@given(st.floats(0, 0.99), st.floats(-2, 2), st.floats(-500, 500), st.integers(0, 2**32 - 1))
def test_the_expectation_does_not_err_with_the_mean_of_the_draws(confidence, place, off, seed):
    """Draws that all lie too high, or that are stretched, against normal costs known exactly."""
    sd, mean, later = 5_000.0, 40_000.0, 3_000.0
    budget, penalty = mean + place * sd, overrun_penalty(confidence)
    upfront = np.random.default_rng(seed).normal(mean, sd, 4_096)
    cost = Cost(upfront, upfront + later, mean, mean + later)
    # Expected overrun of a normal: the unit normal loss (Raiffa & Schlaifer, 1961).
    exact = mean + later + penalty * sd * (norm.pdf(place) - place * norm.sf(place))
    found = cost.regretted(budget, penalty)
    assert abs(found.mean - exact) < 5 * found.error + 1e-6
    drawn = cost_of_draws(upfront, upfront + later).regretted(budget, penalty)
    assert found.error <= drawn.error
    moved = Cost(upfront + off, upfront + off + later, mean + off, mean + off + later)
    assert cost.dearer(off).regretted(budget, penalty).mean == pytest.approx(
        moved.regretted(budget, penalty).mean
    )


def test_costs_all_within_or_all_over_the_budget_are_exact():
    upfront = np.linspace(30_000, 50_000, 1_000)
    cost = Cost(upfront, upfront, 41_000.0, 41_000.0)
    assert cost.regretted(60_000, 4.0) == Regretted(41_000.0, 0.0)
    far = cost.regretted(10_000, 4.0)
    assert far.mean == pytest.approx(41_000 + 4 * 31_000)
    assert far.error == pytest.approx(0, abs=1e-6)


def test_work_that_can_wait_takes_from_the_surplus_and_overruns_no_budget():
    assert regretted_surplus(60, 55, 44, 45, 4.0) == pytest.approx(5)
    assert regretted_surplus(60, 55, 47, 45, 4.0) == pytest.approx(5 - 4 * 2)


@pytest.mark.parametrize("confidence", [-0.1, 1.0, float("nan")])
def test_a_confidence_that_is_none_is_refused(confidence):
    with pytest.raises(ValueError, match="confidence"):
        overrun_penalty(confidence)


class TestWeightedMedian:
    def test_the_share_decides(self):
        assert weighted_median([10, 20, 90], [0.2, 0.2, 0.6]) == 90
        assert weighted_median([90, 10, 20], [0.3, 0.3, 0.4]) == 20

    def test_an_even_split_is_midway(self):
        assert weighted_median([10, 30], [0.5, 0.5]) == 20

    def test_who_has_no_share_has_no_say(self):
        assert weighted_median([10, 30, 1e9], [0.5, 0.5, 0.0]) == 20

    @given(hnp.arrays(float, st.integers(1, 9), elements=money))
    def test_equal_shares_give_the_plain_median(self, values):
        shares = np.full(len(values), 1 / len(values))
        assert weighted_median(values, shares) == pytest.approx(np.median(values))

    @given(st.data(), st.integers(1, 7))
    def test_at_most_half_of_the_weight_lies_on_either_side(self, data, count):
        values = data.draw(hnp.arrays(float, count, elements=money))
        weights = data.draw(hnp.arrays(float, count, elements=st.floats(0.01, 10)))
        median = weighted_median(values, weights)
        half = weights.sum() / 2 + 1e-9
        assert weights[values < median].sum() <= half
        assert weights[values > median].sum() <= half

    @pytest.mark.parametrize(
        ("values", "weights"),
        [([], []), ([1], [0]), ([1, 2], [1]), ([1, 2], [2, -1]), ([float("nan"), 1], [1, 1])],
    )
    def test_bad_input_is_refused(self, values, weights):
        with pytest.raises(ValueError, match=r"values|weights"):
            weighted_median(values, weights)


def test_rounding_of_a_certain_cost_says_nothing_of_the_overrun():
    """At the budget, draws that differ by rounding alone gave any slope of the overrun."""
    upfront = np.full(2_048, 30_000.0)
    upfront[::3] += 4e-12
    cost = Cost(upfront, upfront, 30_000.0, 30_000.0)
    for by in (0.0, 0.01, 1.0):
        regretted = cost.dearer(by).regretted(30_000.0, 4.0)
        assert regretted.mean == pytest.approx(30_000 + 5 * by, abs=1e-6)
        assert regretted.error == pytest.approx(0, abs=1e-6)
