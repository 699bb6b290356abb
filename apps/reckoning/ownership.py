"""The cost of keeping the boat: by the year, over the years, and per buyer.

Expenses are positive here. Flows fall at the end of each year, the purchase at year 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Floats
from apps.reckoning.pricing import CatalogueFee, Rates, Size, expected_of, price_fees
from apps.reckoning.work import require


@dataclass(frozen=True, slots=True, eq=False)
class YearlyCost:
    """Cost of one year, in the list's currency now.

    by_line: (P, 3) low, likely, high of each line. expected: mean of each line (P,). The sums of
    low and high assume that all lines go wrong together, so they bound the year, not predict it.
    """

    by_line: Floats
    expected: Floats

    @property
    def low(self) -> float:
        return float(self.by_line[:, 0].sum())

    @property
    def likely(self) -> float:
        return float(self.by_line[:, 1].sum())

    @property
    def high(self) -> float:
        return float(self.by_line[:, 2].sum())

    @property
    def mean(self) -> float:
        return float(self.expected.sum())


def running_cost(
    lines: Sequence[CatalogueFee], size: Size, rates: Rates, *, value: float
) -> YearlyCost:
    """Cost of a year: berth, storage, insurance, upkeep. value: of the boat."""
    require(value >= 0, "value", "is negative or not a number")
    points = price_fees(lines, size, rates, value=value)
    return YearlyCost(by_line=points, expected=expected_of(points))


@dataclass(frozen=True, slots=True)
class OwnershipCost:
    """Cost of having the boat for some years, in today's money.

    total: present value of purchase, years and resale. yearly: the same as one equal sum a year.
    """

    purchase: float
    running: float
    resale: float
    total: float
    yearly: float


def cost_of_ownership(
    all_in: float,
    running_year: float,
    *,
    years: int,
    discount_rate: float,
    growth_rate: float = 0.0,
    resale: float = 0.0,
) -> OwnershipCost:
    """Present value of buying at all_in now, running for `years`, selling for `resale` at the end.

    running_year: cost of the first year; it grows by growth_rate a year after that. Rates are per
    year, as fractions. Raises ValueError naming the field.
    """
    require(years >= 1, "years", "is less than 1")
    for name, rate in (("discount_rate", discount_rate), ("growth_rate", growth_rate)):
        require(rate > -1, name, "is not above -1")
    yearly = running_year * (1 + growth_rate) ** np.arange(years)
    running = net_present_value(discount_rate, [0.0, *yearly])
    back = resale / (1 + discount_rate) ** years
    total = all_in + running - back
    return OwnershipCost(
        purchase=all_in,
        running=running,
        resale=back,
        total=total,
        yearly=level_payment(discount_rate, years, total),
    )


def net_present_value(rate: float, flows: ArrayLike) -> float:
    """Sum of flows (N,) discounted by period; the first falls now and is not discounted."""
    flow = np.asarray(flows, float)
    return float(flow @ (1 + rate) ** -np.arange(len(flow), dtype=float))


def level_payment(rate: float, periods: int, present: float) -> float:
    """Equal sum at the end of each period that is worth `present` now."""
    if rate == 0:
        return present / periods
    return present * rate / -float(np.expm1(-periods * np.log1p(rate)))


def by_share(amount: float, shares: ArrayLike) -> Floats:
    """Each buyer's part of an amount, (B,). Raises ValueError unless the shares sum to 1."""
    part = np.asarray(shares, float)
    require(bool((part >= 0).all()), "shares", "one is negative or not a number")
    require(bool(abs(part.sum() - 1) < 1e-6), "shares", f"sum to {part.sum()}, not to 1")
    return amount * part
