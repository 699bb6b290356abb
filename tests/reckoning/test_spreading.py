"""Random numbers that are spread evenly over a few draws in succession."""

import numpy as np
import pytest

from apps.reckoning.spreading import BOAT, EVEN, LOOK, UNITS, EvenPlaces, in_units

DRAWS = 4096


def places(seed=1, rows=70, stream=BOAT):
    return EvenPlaces(stream, rows, DRAWS, np.random.default_rng(seed))[:rows]


def correlation(one, other):
    return np.corrcoef(one.astype(float), other.astype(float))[0, 1]


def test_each_few_in_succession_fall_into_equal_parts_one_in_each():
    part = places().reshape(-1, EVEN) // (UNITS // EVEN)
    assert (np.sort(part, axis=1) == np.arange(EVEN)).all()


@pytest.mark.parametrize("chance", [0.0, 1e-4, 0.03, 0.5, 0.97, 1.0])
def test_they_are_below_a_chance_as_often_as_it_says(chance):
    below = places() < in_units(np.array(chance))
    error = np.sqrt(chance * (1 - chance) / below.size)
    assert below.mean() == pytest.approx(chance, abs=4 * error + 0.5 / UNITS)
    if chance in (0.0, 1.0):
        assert (below == bool(chance)).all()


def test_the_share_below_a_chance_strays_less_than_that_of_independent_numbers():
    share = (places() < in_units(np.array(0.3))).mean(axis=1)
    assert share.std() < 0.5 * np.sqrt(0.3 * 0.7 / DRAWS)


def test_rows_boats_and_streams_have_nothing_to_do_with_one_another():
    one, other, look = places(1), places(2), places(1, stream=LOOK)
    errors = 5 / np.sqrt(DRAWS)
    assert abs(correlation(one[0], one[1])) < errors
    for row in range(10):
        assert abs(correlation(one[row], other[row])) < errors
        assert abs(correlation(one[row], look[row])) < errors


def test_one_row_is_that_of_all_rows_and_a_boat_has_the_same_again():
    one = EvenPlaces(BOAT, 70, DRAWS, np.random.default_rng(3))
    assert (one[69] == one[:70][69]).all()
    assert (places(3) == one[:70]).all()
