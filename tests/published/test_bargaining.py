"""A survey with the option to walk away or to bargain, against a published decision tree.

Oil wildcatter: Raiffa (1968), Decision Analysis (from memory; the figures of states, soundings and
values also in test_value_of_information). Dry, wet and soaking with .5, .3 and .2 are worth -70,
50 and 200 (thousand); a sounding shows no, open or closed structure. Its joint chances are whole
per cents, so a hundred draws hold the tree exactly. Walking away after it is the option to abandon.
Farming out a part of what was found is put as money off; those figures are by hand.
"""

import numpy as np
import pytest

from apps.reckoning.bargaining import NO_BARGAIN, Bargain, after_knowing_all, after_survey

PAYOFF = np.array([-70.0, 50.0, 200.0])
# Per cents of (state, sounding): .5 (.6 .3 .1), .3 (.3 .4 .3), .2 (.1 .4 .5).
JOINT = np.array([[30, 15, 5], [9, 12, 9], [2, 8, 10]])
STATE, SOUNDING = (
    np.repeat(np.indices(JOINT.shape)[axis].ravel(), JOINT.ravel()) for axis in (0, 1)
)
UTILITY = PAYOFF[STATE]
COST = -UTILITY  # what is lacking to her best is a cost
ANY = 1e9


def test_the_sounding_with_the_option_to_abandon():
    """Drilling blind is worth 20; no structure (.41) is worth -30.49 a well, and is abandoned."""
    found = after_survey(SOUNDING, UTILITY, COST, 0.0, NO_BARGAIN)
    assert found.gain == pytest.approx(12.5)
    assert 20 + found.gain - 10 == pytest.approx(22.5)  # the sounding costs 10
    assert found.not_bought == pytest.approx(0.41)
    assert found.money_off == 0


def test_without_the_option_the_sounding_is_worth_nothing():
    forced = after_survey(SOUNDING, UTILITY, COST, -ANY, NO_BARGAIN)
    assert (forced.gain, forced.not_bought) == (pytest.approx(0), 0)


def test_perfect_information():
    found = after_knowing_all(UTILITY, COST, 0.0, NO_BARGAIN)
    assert found.gain == pytest.approx(35)
    assert found.not_bought == pytest.approx(0.5)


def test_with_money_off_by_hand():
    """After no structure she is worth (-2100 + 450 + 400) / 41, 50.49 less than the 20 before.

    The seller who agrees gives that, and she is worth 20 again, in .41 of the cases. Open structure
    is worth (-1050 + 600 + 1600) / 35 = 32.86 and closed (-350 + 450 + 2000) / 24 = 87.5: nothing
    to ask for.
    """
    off = 20 - (-2_100 + 450 + 400) / 41
    for p in (0.25, 0.5, 1.0):
        found = after_survey(SOUNDING, UTILITY, COST, 0.0, Bargain(p, ANY))
        assert found.gain == pytest.approx(12.5 + p * 0.41 * 20)
        assert found.money_off == pytest.approx(p * 0.41 * off)
        assert found.not_bought == pytest.approx((1 - p) * 0.41)


def test_a_seller_bears_no_more_than_the_most():
    """Up to 60 beyond the mean cost of -20, a dry hole counts as 40: 30 less than it is."""
    capped = np.minimum(COST, 40.0)
    asked = capped[SOUNDING == 0].mean() - capped.mean()
    found = after_survey(SOUNDING, UTILITY, COST, 0.0, Bargain(1.0, 60.0))
    worth = -1_250 / 41 + asked
    assert found.gain == pytest.approx(12.5 + 0.41 * max(worth, 0.0))
