"""Each boat's cost up front against the budget, as a line drawn by the page itself.

As on the printed board: the line spans 80% of the outcomes, the disc is the middle one; dotted and
open lie beyond the budget. Colours come from the style sheet, so that they suit light and dark.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from apps.appraisal.stored.parts import Amount, Range

WIDTH = 300.0  # of the drawing; all lines of one page share the scale
ROOM = 8.0  # at its ends, for a disc


@dataclass(frozen=True)
class BarScale:
    """Where amounts of the list's currency stand in the drawing."""

    budget: float
    most: float

    @classmethod
    def of(cls, budget: Amount, ranges: Iterable[Range | None]) -> "BarScale":
        limit = float(budget["amount"])
        return cls(limit, max([limit, *(float(one["high"]) for one in ranges if one)]) or 1.0)

    def at(self, amount: float) -> float:
        return round(ROOM + (WIDTH - 2 * ROOM) * amount / self.most, 1)

    def bar(self, cost: Range) -> "CostBar":
        low, likely, high = float(cost["low"]), float(cost["likely"]), float(cost["high"])
        return CostBar(
            limit=self.at(self.budget),
            likely=self.at(likely),
            fits=likely <= self.budget,
            within=self._part(low, min(high, self.budget)),
            beyond=self._part(max(low, self.budget), high),
        )

    def _part(self, start: float, end: float) -> tuple[float, float] | None:
        return (self.at(start), self.at(end)) if start < end else None


@dataclass(frozen=True)
class CostBar:
    limit: float
    likely: float
    fits: bool
    within: tuple[float, float] | None
    beyond: tuple[float, float] | None
