"""Parts add up to the total, and payments settle with as few as possible."""

from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.reckoning.settling import MOST_EXACT, apportion, settling_payments

WEIGHTS = st.lists(st.fractions(0, 100, max_denominator=997), min_size=1, max_size=9).filter(any)


@given(st.integers(-(10**12), 10**12), WEIGHTS)
def test_parts_add_up_and_each_is_its_share_rounded(total, weights):
    parts = apportion(total, weights)
    assert sum(parts) == total
    whole = sum(weights)
    for part, weight in zip(parts, weights, strict=True):
        assert abs(part - total * weight / whole) < 1


def test_among_equal_remainders_the_earlier_gets_more():
    assert apportion(100, [Fraction(1)] * 3) == [34, 33, 33]
    assert apportion(-100, [Fraction(1)] * 3) == [-34, -33, -33]


@pytest.mark.parametrize("weights", [[], [Fraction(0)], [Fraction(2), Fraction(-1)]])
def test_weights_that_share_nothing_out_are_refused(weights):
    with pytest.raises(ValueError, match="weights"):
        apportion(10, weights)


def balanced(most: int) -> st.SearchStrategy[list[int]]:
    """Small balances, so that groups that add up to 0 are common; the last one closes the sum."""
    return st.lists(st.integers(-6, 6), max_size=most - 1).map(lambda some: [*some, -sum(some)])


def after(balances: list[int]) -> list[int]:
    left = list(balances)
    for payment in settling_payments(balances):
        assert payment.amount > 0
        left[payment.payer] += payment.amount
        left[payment.payee] -= payment.amount
    return left


@given(balanced(7))
def test_payments_settle_with_the_fewest(balances):
    assert not any(after(balances))
    assert len(settling_payments(balances)) == fewest([b for b in balances if b])


def fewest(open_balances: list[int]) -> int:
    """By exhaustive search: people less the most groups that add up to 0."""
    return len(open_balances) - most_groups(tuple(open_balances))


def most_groups(left: tuple[int, ...]) -> int:
    if not left:
        return 0
    first, rest = left[0], left[1:]
    best = 0
    for size in range(len(rest) + 1):
        for chosen in combinations(range(len(rest)), size):
            if first + sum(rest[i] for i in chosen) == 0:
                others = tuple(b for i, b in enumerate(rest) if i not in chosen)
                best = max(best, 1 + most_groups(others))
    return best


@given(balanced(40).filter(lambda some: sum(map(bool, some)) > MOST_EXACT))
def test_many_balances_settle_with_one_payment_less_than_people(balances):
    assert not any(after(balances))
    assert len(settling_payments(balances)) < sum(map(bool, balances))


def test_balances_that_do_not_add_up_are_refused():
    with pytest.raises(ValueError, match="add up"):
        settling_payments([5, -4])
