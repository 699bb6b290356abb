"""Which sums may be published, compared with brute force over everything that follows."""

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.disclosure import TOO_FEW, may_be_disclosed


def rows(*sums: str) -> np.ndarray:
    """Each a text of 1 and 0, one for each contribution."""
    return np.array([[one == "1" for one in row] for row in sums])


def leaks(disclosed: np.ndarray, contributor: np.ndarray) -> bool:
    """Whether a combination of the sums with small whole numbers rests on too few parties."""
    for factors in product(range(-2, 3), repeat=len(disclosed)):
        follows = np.array(factors) @ disclosed.astype(int)
        contributors = np.unique(contributor[follows != 0])
        if 0 < len(contributors) <= TOO_FEW:
            return True
    return False


def test_four_parties_are_enough_and_three_are_not():
    assert may_be_disclosed(rows("1111"), np.arange(4)).tolist() == [True]
    assert may_be_disclosed(rows("1110"), np.arange(4)).tolist() == [False]
    assert may_be_disclosed(rows("1111"), np.array([0, 1, 2, 2])).tolist() == [False]


def test_a_part_is_not_told_whose_rest_is_narrow():
    contributor = np.arange(6)
    assert may_be_disclosed(rows("111111", "111100"), contributor).tolist() == [True, False]
    assert may_be_disclosed(rows("11111111", "11110000"), np.arange(8)).tolist() == [True, True]


def test_two_narrow_rests_may_hide_one_another():
    """Of three parts two are kept back: their sum is wide enough."""
    contributor = np.arange(8)
    disclosed = may_be_disclosed(rows("11111111", "11110000", "00001100", "00000011"), contributor)
    assert disclosed.tolist() == [True, True, False, False]


def test_two_ways_of_dividing_are_looked_at_together():
    """Each part is wide; one way less the other leaves one party."""
    every, one, other = "1111111111", "1111100000", "1111110000"
    assert may_be_disclosed(rows(every, one, other), np.arange(10)).tolist() == [True, True, False]


def test_combinations_of_more_than_two_are_seen():
    """a + b - c - d is one party's, though no two of them are near one another."""
    sums = rows("111100000000", "000011110001", "110011000000", "001100110000")
    contributor = np.arange(12)
    disclosed = may_be_disclosed(sums, contributor)
    assert not disclosed.all()
    assert not leaks(sums[disclosed], contributor)


def test_what_was_told_before_counts():
    """The same boats and one more: the difference between before and after would reveal it."""
    contributor = np.arange(5)
    before = rows("11110")
    assert may_be_disclosed(rows("11111"), contributor, before).tolist() == [False]
    assert may_be_disclosed(rows("11110"), contributor, before).tolist() == [True]
    assert may_be_disclosed(rows("11111"), contributor).tolist() == [True]


def test_what_was_told_before_and_replaced_counts():
    """Four parties each put one contribution in place of another."""
    contributor = np.array([0, 1, 2, 3, 0, 1, 2, 3])
    assert may_be_disclosed(rows("00001111"), contributor, rows("11110000")).tolist() == [True]
    three = np.array([0, 1, 2, 3, 0, 1, 2])
    assert may_be_disclosed(rows("0001111"), three, rows("1111000")).tolist() == [False]


def test_what_is_out_already_does_not_silence_the_rest():
    """Parties that merged since: sums that follow from the old ones are not published again."""
    contributor = np.array([0, 0, 1, 2, 3, 4, 5, 6])
    before = rows("11110000")
    assert may_be_disclosed(rows("00011111"), contributor, before).tolist() == [True]


def test_nothing_to_tell():
    assert may_be_disclosed(np.zeros((0, 3), dtype=bool), np.arange(3)).tolist() == []
    assert may_be_disclosed(np.zeros((2, 0), dtype=bool), np.zeros(0, dtype=np.intp)).tolist() == [
        False,
        False,
    ]


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 100_000), st.integers(4, 9), st.integers(2, 4))
def test_nothing_told_can_be_taken_apart(seed, contributors, sums):
    rng = np.random.default_rng(seed)
    columns = contributors + int(rng.integers(0, 8))
    contributor = np.concatenate(
        [np.arange(contributors), rng.integers(0, contributors, columns - contributors)]
    )
    wanted = np.vstack([np.ones(columns, dtype=bool), rng.random((sums, columns)) < 0.6])
    disclosed = may_be_disclosed(wanted, contributor)
    assert disclosed[0] == (contributors > TOO_FEW)
    assert not leaks(wanted[disclosed], contributor)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000))
def test_as_much_is_told_as_may_be(seed):
    """Of what is kept back nothing could be added, by rank over all small sets of parties."""
    rng = np.random.default_rng(seed)
    contributor = rng.integers(0, 7, 14)
    wanted = np.vstack([np.ones(14, dtype=bool), rng.random((3, 14)) < 0.6])
    disclosed = may_be_disclosed(wanted, contributor)
    for at in np.flatnonzero(~disclosed):
        more = wanted[disclosed | (np.arange(len(wanted)) == at)]
        whole = np.linalg.matrix_rank(more.astype(float))
        present = np.unique(contributor)
        assert any(
            np.linalg.matrix_rank(more[:, ~np.isin(contributor, some)].astype(float)) < whole
            for some in combinations(present, min(TOO_FEW, len(present)))
        )


@pytest.mark.parametrize("contributors", [12, 30])
def test_many_parties_take_no_time_to_speak_of(contributors):
    rng = np.random.default_rng(0)
    contributor = rng.integers(0, contributors, 8 * contributors)
    kinds = [rng.integers(0, 5, len(contributor)) for _ in range(4)]
    sums = np.array(
        [np.ones(len(contributor), dtype=bool), *(k == v for k in kinds for v in range(5))]
    )
    disclosed = may_be_disclosed(sums, contributor)
    assert disclosed[0]
    assert disclosed.sum() > 10
