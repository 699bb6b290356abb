"""From the work list and the season's bounds to a plan: by month, with its cost by buyer."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from apps.ownership.season.calendar import months_of, numbers_in
from apps.ownership.season.models import SeasonSettings
from apps.ownership.season.work import State, WorkItem, WorkList
from apps.ownership.solver.problem import (
    EnablingWork,
    PlannedJob,
    Season,
    WorkJob,
    WorkPlan,
    begun,
    spent,
)
from apps.reckoning.settling import apportion

CENT = Decimal("0.01")
# Codes of the catalogue's enabling work of which the plan knows more. All other may begin and end
# in any month in which she does not sail.
LIFT_OUT, DRY = "lift-out", "dry-storage"
# A hull dries for one to six months before it is coated; common practice, no source.
DRIES_FOR = 2


@dataclass(frozen=True)
class PlannedMonth:
    """in_place: codes of the enabling work that is in place. by_buyer: parts add up to cost."""

    month: date
    cost: Decimal
    own_hours: int
    in_place: tuple[str, ...]
    by_buyer: Mapping[uuid.UUID, Decimal]


@dataclass(frozen=True)
class PlannedItem:
    """An item with its first and last month, None if it is not planned; hours by month."""

    item: WorkItem
    begins: date | None
    ends: date | None
    hours: tuple[int, ...] = ()

    @property
    def not_possible(self) -> bool:
        """Whether it is to be done, and no month has the hours, the money or the yard for it."""
        return self.item.state == State.PLANNED and self.begins is None


@dataclass(frozen=True)
class PlannedEnabling:
    code: str
    cost: Decimal
    begins: tuple[date, ...]


@dataclass(frozen=True)
class SeasonPlan:
    items: tuple[PlannedItem, ...]
    months: tuple[PlannedMonth, ...]
    enabling: tuple[PlannedEnabling, ...]
    proven: bool

    @property
    def cost(self) -> Decimal:
        return sum((one.cost for one in self.months), Decimal(0))

    @property
    def sails_unsafe(self) -> list[PlannedItem]:
        """Safety work that has no month."""
        return [one for one in self.items if one.item.safety and one.not_possible]


def season_planned(
    work: WorkList, settings: SeasonSettings, shares: Mapping[uuid.UUID, Decimal]
) -> SeasonPlan:
    months = months_of(settings.first_month, settings.months)
    planned = [one for one in work.items if one.state == State.PLANNED]
    season = season_of(planned, work.enabling, settings, months)
    plan = _plan(season)
    placed = dict(zip((one.remedy for one in planned), plan.jobs, strict=True))
    return SeasonPlan(
        items=tuple(_item(one, placed.get(one.remedy), months) for one in work.items),
        months=tuple(_months(season, plan, months, shares)),
        enabling=tuple(_enabling(season, plan, months)),
        proven=plan.proven,
    )


# --- To the solver -------------------------------------------------------------------------------


def season_of(
    planned: Sequence[WorkItem],
    costs: Mapping[str, float],
    settings: SeasonSettings,
    months: list[date],
) -> Season:
    needed = {code for one in planned for code in one.needs if code in costs}
    needed |= {LIFT_OUT} if DRY in needed and LIFT_OUT in costs else set()
    codes = sorted(needed, key=lambda code: (code != LIFT_OUT, code))
    place = {code: m for m, code in enumerate(codes)}
    sailing = numbers_in(months, settings.sailing_months)
    lifting = numbers_in(months, settings.lift_months or range(1, 13))
    every = frozenset(range(len(months)))
    return Season(
        hours=(settings.own_hours,) * len(months),
        jobs=tuple(
            WorkJob(
                code=one.remedy,
                cost=cents(one.cost),
                hours=one.hours,
                safety=one.safety,
                urgent=one.urgent,
                needs=frozenset(place[code] for code in one.needs if code in place),
            )
            for one in planned
        ),
        enabling=tuple(
            EnablingWork(
                code=code,
                cost=cents(costs[code]),
                may_change=lifting if code == LIFT_OUT else every,
                closed=sailing,
                in_place=settings.ashore and code == LIFT_OUT,
                needs=frozenset({place[LIFT_OUT]}) if code == DRY else frozenset(),
                ahead=DRIES_FOR if code == DRY else 0,
            )
            for code in codes
        ),
        most=None if settings.most_a_month is None else int(settings.most_a_month / CENT),
    )


def cents(amount: float) -> int:
    return round(amount * 100)


@lru_cache(32)
def _plan(season: Season) -> WorkPlan:
    """A season is solved once, as long as it is among the last that were asked for."""
    # The solver's libraries take a second to load, and no process needs them at its start.
    from apps.ownership.solver.scheduling import plan_of

    return plan_of(season)


# --- From the solver -----------------------------------------------------------------------------


def _item(item: WorkItem, placed: PlannedJob | None, months: list[date]) -> PlannedItem:
    if placed is None:
        return PlannedItem(item, None, None)
    return PlannedItem(item, months[placed.begins], months[placed.ends], placed.hours)


def _months(
    season: Season, plan: WorkPlan, months: list[date], shares: Mapping[uuid.UUID, Decimal]
) -> list[PlannedMonth]:
    due = spent(season, plan)
    return [
        PlannedMonth(
            month=month,
            cost=due[n] * CENT,
            own_hours=sum(one.hours[n] for one in plan.jobs if one is not None),
            in_place=tuple(
                work.code
                for work, stands in zip(season.enabling, plan.in_place, strict=True)
                if stands[n]
            ),
            by_buyer=shared(due[n], shares),
        )
        for n, month in enumerate(months)
    ]


def shared(amount: int, shares: Mapping[uuid.UUID, Decimal]) -> dict[uuid.UUID, Decimal]:
    """Cents by the buyers' shares, by largest remainders: no cent is lost."""
    if not any(shares.values()):
        return {}
    parts = apportion(amount, [Fraction(share) for share in shares.values()])
    return {person: part * CENT for person, part in zip(shares, parts, strict=True)}


def _enabling(season: Season, plan: WorkPlan, months: list[date]) -> list[PlannedEnabling]:
    return [
        PlannedEnabling(
            code=work.code,
            cost=work.cost * CENT,
            begins=tuple(months[n] for n in begun(season, m, plan.in_place[m])),
        )
        for m, work in enumerate(season.enabling)
        if any(plan.in_place[m])
    ]
