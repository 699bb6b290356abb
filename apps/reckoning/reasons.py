"""The reasons for which a boat may be struck off, each with its facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class MustBroken:
    """The candidate's `value` is below `least` or above `most` of a member's must."""

    code: ClassVar[str] = "must_broken"
    want: str
    member: int
    value: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class WalkAwayReason:
    """A checkpoint that was looked at has reached its walk-away level with this probability."""

    code: ClassVar[str] = "walk_away_finding"
    checkpoint: int
    walk_away_level: int
    probability: float


@dataclass(frozen=True, slots=True)
class OpenDoubtReason:
    """A doubt at the walk-away level is believed, or several people raised it independently.

    level: of the doubt. probability: of the walk-away level. seen_by: people who reported it.
    """

    code: ClassVar[str] = "open_doubt"
    checkpoint: int
    level: int
    probability: float
    seen_by: int


@dataclass(frozen=True, slots=True)
class ToBeJudgedReason:
    """A grave doubt that is not yet a reason to strike off, to be judged by a professional first.

    probability: of the walk-away level, None where the checkpoint has none.
    """

    code: ClassVar[str] = "to_be_judged"
    checkpoint: int
    level: int
    probability: float | None
    seen_by: int


@dataclass(frozen=True, slots=True)
class OverBudgetReason:
    """The chance of staying within the budget is below `least_chance` = 1 - required confidence.

    As far as valuations are known, she is also not likely to be the best choice for the group.
    """

    code: ClassVar[str] = "over_budget"
    chance_within_budget: float
    least_chance: float


@dataclass(frozen=True, slots=True)
class CostsMoreReason:
    """She costs more than she is worth to the group, with this probability: U is below 0.

    best: the chance that she is still the best choice. overrun_counts: how many times money over
    the budget counts, 1 + lambda.
    """

    code: ClassVar[str] = "costs_more"
    probability: float
    best: float
    overrun_counts: float


@dataclass(frozen=True, slots=True)
class DominatedReason:
    """Candidate `by` is better for every buyer, in expectation and with this probability.

    also: other candidates for which that holds too. `by` is the one with the largest gain in E[U]
    that every buyer would have.
    """

    code: ClassVar[str] = "dominated"
    by: int
    probability: float
    also: tuple[int, ...] = ()


Advice = (
    MustBroken
    | WalkAwayReason
    | OpenDoubtReason
    | OverBudgetReason
    | CostsMoreReason
    | DominatedReason
)
