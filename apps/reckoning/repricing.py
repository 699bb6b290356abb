"""A candidate's cost as a function of one price: the asking price, or a quote for one remedy."""

from typing import NamedTuple

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.utility import Cost, Regretted, regretted
from apps.reckoning.work import Purchase


class Moving(NamedTuple):
    """The cost that depends on one price: now (D,), its amount, with its mean; rate (D,), the
    amount for one unit of the price.
    """

    now: Floats
    mean_now: float
    rate: Floats
    mean_rate: float

    @classmethod
    def nothing(cls, draws: int) -> "Moving":
        return cls(np.zeros(draws), 0.0, np.zeros(draws), 0.0)

    @classmethod
    def in_proportion(cls, now: Floats, mean_now: float, purchase: Purchase) -> "Moving":
        """Cost in proportion to the asking price."""
        return cls(now, mean_now, now / purchase.asking, mean_now / purchase.asking)

    def with_(self, other: "Moving") -> "Moving":
        return Moving(
            self.now + other.now,
            self.mean_now + other.mean_now,
            self.rate + other.rate,
            self.mean_rate + other.mean_rate,
        )

    def mean_more(self, x: float) -> float:
        return self.mean_rate * x - self.mean_now


class Moved(NamedTuple):
    """A candidate's cost if one price changes the cost up front and the later cost."""

    cost: Cost
    upfront: Moving
    later: Moving

    def upfront_at(self, x: float) -> Floats:
        """(D,) if the price is x."""
        return self.cost.upfront + (self.upfront.rate * x - self.upfront.now)

    def regretted_at(self, x: float, budget: float, penalty: float) -> Regretted:
        more = self.upfront.mean_more(x)
        return regretted(
            self.upfront_at(x),
            self.cost.mean_upfront + more,
            self.cost.mean_all_in + more + self.later.mean_more(x),
            budget,
            penalty,
        )

    @property
    def mean_rate(self) -> float:
        return self.upfront.mean_rate + self.later.mean_rate


def last_within(
    room: Floats, rate: Floats, chance: float, reach: tuple[float, float] | None
) -> float | None:
    """The highest x for which rate * x <= room holds with at least this chance."""
    moved = rate > 0
    limit = np.where(moved, np.divide(room, rate, out=np.zeros_like(room), where=moved), np.inf)
    limit[~moved & (room < 0)] = -np.inf
    ordered = np.sort(limit)[::-1]
    count = int(np.ceil(chance * len(ordered) - 1e-9))
    last = float(ordered[count - 1]) if count else np.inf
    low, high = reach or (0.0, np.inf)
    return last if low <= last <= high and np.isfinite(last) else None
