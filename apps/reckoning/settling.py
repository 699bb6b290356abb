"""Shares out sums of money without losing a cent, and finds the fewest payments that settle.

Amounts are whole numbers of the smallest unit (cents), so every sum is exact.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

# Up to this many open balances the fewest payments are found exactly, in about 2^12 * 12 steps.
MOST_EXACT = 12


def apportion(total: int, weights: Sequence[Fraction]) -> list[int]:
    """Parts of `total` in proportion to the weights, by the method of largest remainders.

    Each part is its exact share rounded down or up, and the parts add up to the total. Among equal
    remainders the earlier gets more. A negative total gives the negative parts of the positive one.
    weights: not negative, at least one above 0. Raises ValueError otherwise.

    Source: A. Hamilton 1792, in M. Balinski, H. P. Young, "Fair Representation", 2nd ed. 2001.
    """
    if not weights or min(weights) < 0 or not any(weights):
        raise ValueError("The weights must not be negative, and one must be above 0.")
    if total < 0:
        return [-part for part in apportion(-total, weights)]
    whole = sum(weights, Fraction(0))
    quotas = [total * weight / whole for weight in weights]
    parts = [int(quota) for quota in quotas]
    by_remainder = sorted(range(len(parts)), key=lambda i: (parts[i] - quotas[i], i))
    for i in by_remainder[: total - sum(parts)]:
        parts[i] += 1
    return parts


@dataclass(frozen=True)
class Transfer:
    """A payment between two people, given by their places in the balances. amount: above 0."""

    payer: int
    payee: int
    amount: int


def settling_payments(balances: Sequence[int]) -> list[Transfer]:
    """Payments after which every balance is 0. Who has a negative balance pays.

    They are as few as possible if at most `MOST_EXACT` balances are open: people fall into as many
    groups as possible whose balances add up to 0, and each group of n settles with n - 1 payments.
    With more open balances there are at most n - 1. Raises ValueError if the sum is not 0.
    """
    if sum(balances) != 0:
        raise ValueError("The balances must add up to 0.")
    still_open = [i for i, balance in enumerate(balances) if balance]
    return [payment for group in _groups(balances, still_open) for payment in _settle(group)]


Balances = dict[int, int]  # by place


def _groups(balances: Sequence[int], still_open: list[int]) -> Iterator[Balances]:
    """The largest number of groups of open balances that each add up to 0."""
    if len(still_open) > MOST_EXACT:
        yield {i: balances[i] for i in still_open}
        return
    # groups[s]: how many groups that add up to 0 can be closed one after the other within s.
    sums, groups, last = [0], [0], [-1]
    for s in range(1, 1 << len(still_open)):
        lowest = (s & -s).bit_length() - 1
        sums.append(sums[s & (s - 1)] + balances[still_open[lowest]])
        members = [j for j in range(len(still_open)) if s >> j & 1]
        last.append(max(members, key=lambda j: (groups[s & ~(1 << j)], -j)))
        groups.append(groups[s & ~(1 << last[s])] + (sums[s] == 0))
    s, group = len(sums) - 1, Balances()
    while s:
        if sums[s] == 0 and group:
            yield group
            group = Balances()
        group[still_open[last[s]]] = balances[still_open[last[s]]]
        s &= ~(1 << last[s])
    if group:
        yield group


def _settle(group: Balances) -> Iterator[Transfer]:
    """Payments of one group: the largest debt pays towards the largest claim, until none is left.

    Each payment closes at least one balance, and the last one closes two.
    """
    rest = dict(sorted(group.items()))
    while rest:
        payer, payee = min(rest, key=lambda i: (rest[i], i)), max(rest, key=lambda i: (rest[i], -i))
        amount = min(-rest[payer], rest[payee])
        yield Transfer(payer, payee, amount)
        rest[payer] += amount
        rest[payee] -= amount
        rest = {i: left for i, left in rest.items() if left}
