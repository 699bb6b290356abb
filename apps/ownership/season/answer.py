"""The answer about a boat's season, in plain values. Money is decimal text in one currency."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TypedDict

from apps.accounts.models import Person
from apps.appraisal.board.candidate_selectors import CandidateHead
from apps.catalogue.content import CautionEntry
from apps.ownership.models import SeasonSettings, WorkDecision
from apps.ownership.season.keeping import Keeping, Years, money
from apps.ownership.season.planning import PlannedItem, PlannedMonth, SeasonPlan
from apps.ownership.season.selectors import SeasonRead
from apps.ownership.season.work import State, WorkList


class BuyerPart(TypedDict):
    person: Person
    amount: str


class ItemRead(TypedDict):
    remedy: str
    title: str
    area: str
    state: str
    chance: float
    safety: bool
    urgency: str
    done_by: str
    estimate: str
    cost: str
    paid: str | None
    own_hours: int
    enabling: list[str]
    because: list[str]
    cautions: list[str]
    begins: date | None
    ends: date | None
    not_possible: bool
    decision: WorkDecision | None


class MonthRead(TypedDict):
    month: date
    cost: str
    own_hours: int
    enabling: list[str]
    by_buyer: list[BuyerPart]


class EnablingRead(TypedDict):
    enabling: str
    cost: str
    begins: list[date]


class BillsCompared(TypedDict):
    compared: int
    factor: float


class PlanRead(TypedDict):
    work: list[ItemRead]
    months: list[MonthRead]
    enabling: list[EnablingRead]
    planned: str
    perhaps: str
    paid: str
    bills: BillsCompared
    proven: bool
    sentences: list[str]


class StartRead(TypedDict):
    code: str
    amount: str


class YearRead(TypedDict):
    year: int
    amount: str
    present: str


class CaseRead(TypedDict):
    resale: str
    total: str
    a_year: str
    by_buyer: list[BuyerPart]
    by_year: list[YearRead]


class KeepingRead(TypedDict):
    years: int
    discount_rate: float
    start: list[StartRead]
    running_year: str
    cases: list[CaseRead]


class SeasonAnswer(CandidateHead):
    currency: str
    missing: list[str]
    sentence: str
    settings: SeasonSettings | None
    season: PlanRead | None
    keeping: KeepingRead | None
    cautions: Sequence[CautionEntry]


def season_answer(read: SeasonRead) -> SeasonAnswer:
    work, plan = read.work, read.plan
    return {
        **read.envelope,
        "currency": read.currency,
        "missing": list(read.missing),
        "sentence": read.sentence,
        "settings": read.stored,
        "season": None if work is None or plan is None else _season(read, work, plan),
        "keeping": _keeping(read.keeping, read.buyers) if read.keeping else None,
        "cautions": read.cautions,
    }


def _season(read: SeasonRead, work: WorkList, plan: SeasonPlan) -> PlanRead:
    return {
        "work": [_item(one, read) for one in plan.items],
        "months": [_month(one, read.buyers) for one in plan.months],
        "enabling": [
            {"enabling": one.code, "cost": f"{one.cost:.2f}", "begins": list(one.begins)}
            for one in plan.enabling
        ],
        "planned": f"{plan.cost:.2f}",
        "perhaps": f"{perhaps_of(work):.2f}",
        "paid": f"{paid_of(work):.2f}",
        "bills": {"compared": work.bills, "factor": round(work.factor, 3)},
        "proven": plan.proven,
        "sentences": sentences_of(work, plan),
    }


def perhaps_of(work: WorkList) -> Decimal:
    return money(sum(one.expected for one in work.items if one.state == State.PERHAPS))


def paid_of(work: WorkList) -> Decimal:
    return money(sum(one.paid or 0.0 for one in work.items))


def _item(planned: PlannedItem, read: SeasonRead) -> ItemRead:
    one = planned.item
    return {
        "remedy": one.remedy,
        "title": one.title,
        "area": one.area,
        "state": one.state.value,
        "chance": round(one.chance, 3),
        "safety": one.safety,
        "urgency": "now" if one.urgent else "later",
        "done_by": "group" if one.own else "yard",
        "estimate": f"{money(one.estimate):.2f}",
        "cost": f"{money(one.cost):.2f}",
        "paid": None if one.paid is None else f"{money(one.paid):.2f}",
        "own_hours": one.hours,
        "enabling": list(one.needs),
        "because": list(one.because),
        "cautions": list(one.cautions),
        "begins": planned.begins,
        "ends": planned.ends,
        "not_possible": planned.not_possible,
        "decision": read.decisions.get(one.remedy),
    }


def _month(one: PlannedMonth, people: Mapping[uuid.UUID, Person]) -> MonthRead:
    return {
        "month": one.month,
        "cost": f"{one.cost:.2f}",
        "own_hours": one.own_hours,
        "enabling": list(one.in_place),
        "by_buyer": _by_buyer(one.by_buyer, people),
    }


def _by_buyer(
    parts: Mapping[uuid.UUID, Decimal], people: Mapping[uuid.UUID, Person]
) -> list[BuyerPart]:
    return [{"person": people[id], "amount": f"{part:.2f}"} for id, part in parts.items()]


def _keeping(keeping: Keeping, people: Mapping[uuid.UUID, Person]) -> KeepingRead:
    return {
        "years": keeping.years,
        "discount_rate": keeping.discount_rate,
        "start": [{"code": one.code, "amount": f"{one.amount:.2f}"} for one in keeping.start],
        "running_year": f"{keeping.running_year:.2f}",
        "cases": [_case(one, people) for one in keeping.cases],
    }


def _case(case: Years, people: Mapping[uuid.UUID, Person]) -> CaseRead:
    return {
        "resale": f"{case.resale:.2f}",
        "total": f"{case.total:.2f}",
        "a_year": f"{case.a_year:.2f}",
        "by_buyer": _by_buyer(case.by_buyer, people),
        "by_year": [
            {"year": one.year, "amount": f"{one.amount:.2f}", "present": f"{one.present:.2f}"}
            for one in case.years
        ],
    }


# --- In words ------------------------------------------------------------------------------------


def sentences_of(work: WorkList, plan: SeasonPlan) -> list[str]:
    """What a reader must know of the plan before the figures."""
    notes = []
    if unsafe := plan.sails_unsafe:
        named = ", ".join(one.item.title for one in unsafe)
        notes.append(
            f"Safety work has no month in this plan: {named}. She does not sail before it."
        )
    late = [one for one in plan.items if one.not_possible and not one.item.safety]
    if late:
        named = ", ".join(one.item.title for one in late)
        notes.append(f"No month has the hours, the money or the yard for: {named}.")
    for one in plan.enabling:
        if len(one.begins) > 1:
            notes.append(f"{one.code.replace('-', ' ').capitalize()} {len(one.begins)} times.")
    if work.bills:
        than = "more" if work.factor >= 1 else "less"
        by = f"{abs(work.factor - 1):.0%}"
        bills = "1 bill" if work.bills == 1 else f"{work.bills} bills"
        notes.append(f"After {bills}, what remains is expected to cost {by} {than} than estimated.")
    if not plan.proven:
        notes.append("There may be a better plan: the search ended before it tried everything.")
    return notes
