"""Surplus, regret and the weighted median."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from apps.reckoning.utility import (
    expected_regretted_surplus,
    overrun,
    overrun_penalty,
    regretted_surplus,
    surplus,
    weighted_median,
)

money = st.floats(0, 1e6)


def test_surplus_and_overrun():
    assert surplus(50, [40, 60]) == pytest.approx([10, -10])
    assert overrun([40, 60], 45) == pytest.approx([0, 15])


@given(hnp.arrays(float, 20, elements=money), money, money, money, st.floats(0, 0.99))
def test_regret_only_takes_away_and_expectation_is_the_mean(upfront, later, worth, pot, confidence):
    penalty, all_in = overrun_penalty(confidence), upfront + later
    utility = regretted_surplus(worth, all_in, upfront, pot, penalty)
    assert np.all(utility <= surplus(worth, all_in))
    worths = [worth, worth + 1]
    assert expected_regretted_surplus(worths, all_in, upfront, pot, penalty) == pytest.approx(
        [utility.mean(), utility.mean() + 1], rel=1e-6, abs=1e-3
    )


def test_work_that_can_wait_takes_from_the_surplus_and_overruns_no_pot():
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
