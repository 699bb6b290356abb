"""The problem and the solution of a day's plan: plain values, independent of the service.

Times are whole minutes from one zero, lengths whole metres, values whole units of money. Places are
numbered: the starts of the parties first, then the sites.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

Span = tuple[int, int]


@dataclass(frozen=True)
class Party:
    """People who drive together, their start and return; `most_m` None: no limit."""

    leaves: int
    back: int
    most_m: int | None = None


@dataclass(frozen=True)
class Site:
    """A place where boats lie. Each look is within one of its spans, which do not overlap."""

    spans: tuple[Span, ...]


@dataclass(frozen=True)
class BoatToVisit:
    """`by`: parties that may look at her. `fixed`: party and start of an agreed look."""

    site: int
    value: int
    minutes: int
    by: frozenset[int]
    fixed: tuple[int, int] | None = None


@dataclass(frozen=True)
class Problem:
    """`metres[a][b]` and `minutes[a][b]` between places keep the triangle inequality."""

    parties: tuple[Party, ...]
    sites: tuple[Site, ...]
    boats: tuple[BoatToVisit, ...]
    metres: tuple[tuple[int, ...], ...]
    minutes: tuple[tuple[int, ...], ...]
    # Where a party is when it sets off, if that is not the place of its return.
    origins: tuple[int | None, ...] = ()

    def origin(self, party: int) -> int:
        """The place a party comes from."""
        site = self.origins[party] if self.origins else None
        return self.home(party) if site is None else self.place(site)

    def home(self, party: int) -> int:
        return party

    def place(self, site: int) -> int:
        return len(self.parties) + site


@dataclass(frozen=True)
class Stop:
    """A look at one boat; `metres` and `drive`: from the stop before."""

    boat: int
    starts: int
    ends: int
    metres: int
    drive: int


@dataclass(frozen=True)
class Route:
    """A party's day. Without stops it stays at home."""

    party: int
    stops: tuple[Stop, ...] = ()
    sets_off: int = 0
    back: int = 0
    metres: int = 0


class Why(StrEnum):
    """Why a boat is not in the plan."""

    NOBODY_MAY = "nobody_may"
    CLOSED = "closed"
    OUT_OF_REACH = "out_of_reach"
    NO_TIME = "no_time"
    NO_VALUE = "no_value"
    OTHERS_WORTH_MORE = "others_worth_more"


@dataclass(frozen=True)
class Solution:
    """`bound`: no plan is worth more. Proven: none is worth more than this one."""

    routes: tuple[Route, ...]
    value: int
    bound: int
    left_out: dict[int, Why] = field(default_factory=dict)

    @property
    def proven(self) -> bool:
        return self.bound <= self.value

    @property
    def gap(self) -> float:
        """The part of the bound by which a better plan could beat this one, at most."""
        return 0.0 if self.proven else (self.bound - self.value) / self.bound


class Infeasible(Exception):
    """Fixed looks cannot be kept; names their boats."""

    def __init__(self, boats: Sequence[int]) -> None:
        self.boats = tuple(boats)
        super().__init__(f"no plan keeps the fixed looks at boats {list(boats)}")
