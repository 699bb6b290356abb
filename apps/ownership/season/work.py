"""The work list of a boat: what her results call for, what the group decided, what was paid.

Costs are those if the work is needed, in the list's currency.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from apps.appraisal.compute.costing import rates_under
from apps.appraisal.compute.inputs import Brief, boat_of
from apps.appraisal.stored.candidates import Consensus, RemedyCost, StoredRollup
from apps.boats.models import Candidate
from apps.catalogue.content import RemedyEntry
from apps.catalogue.snapshot import Catalogue
from apps.outcomes.estimates import job_of, more_on
from apps.ownership.season.models import WorkDecision
from apps.purchase.facts import LiveBill
from apps.reckoning.outcomes import remaining_factor
from apps.reckoning.pricing import Size, price_jobs

# From this chance on, work is planned; safety work from half of it. Own choice, no source.
PLANNED_FROM = 0.5
SAFETY_FROM = 0.25


class State(StrEnum):
    PLANNED = "planned"
    PERHAPS = "perhaps"
    LEFT = "left"
    DONE = "done"


@dataclass(frozen=True)
class Caller:
    """A checkpoint that calls for a remedy, and with which chance."""

    title: str
    chance: float
    guarded: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class WorkItem:
    """One remedy on the boat. estimate: its cost if it is needed, as estimated; cost: what is still
    expected, as the bills so far move it. hours: of the group's own. paid: by bills.
    """

    remedy: str
    title: str
    area: str
    state: State
    chance: float
    safety: bool
    urgent: bool
    own: bool
    estimate: float
    cost: float
    hours: int
    needs: tuple[str, ...]
    paid: float | None
    because: tuple[str, ...]
    cautions: tuple[str, ...]
    note: str = ""

    @property
    def expected(self) -> float:
        return self.chance * self.cost


@dataclass(frozen=True)
class WorkFacts:
    """What the work list is made from: one boat's stored results, and what people recorded."""

    candidate: Candidate
    brief: Brief
    catalogue: Catalogue
    rollup: StoredRollup
    consensus: Consensus | None
    decisions: Mapping[str, WorkDecision]
    bills: Sequence[LiveBill]
    estimates: Mapping[str, float]  # by remedy, when the season was set


@dataclass(frozen=True)
class WorkList:
    """bills: how many could be compared with an estimate. factor: on the estimates that remain."""

    items: tuple[WorkItem, ...]
    bills: int
    factor: float
    enabling: Mapping[str, float] = field(default_factory=dict)  # what each kind costs once


def work_list(facts: WorkFacts) -> WorkList:
    """Safety work first, then what cannot wait, then the dearest."""
    paid = paid_for(facts)
    ratios = log_ratios(facts, paid)
    factor = remaining_factor(ratios)
    callers = callers_of(facts)
    found = [
        _item(facts, one, callers.get(one["remedy"], ()), paid.get(one["remedy"]), factor)
        for one in facts.rollup.get("remedies", ())
    ]
    listed = {one.remedy for one in found}
    found += [
        _done(facts, code, amount) for code, amount in sorted(paid.items()) if code not in listed
    ]
    found.sort(key=lambda one: (not one.safety, not one.urgent, -one.expected, one.remedy))
    return WorkList(tuple(found), len(ratios), factor, _enabling_costs(facts))


# --- Bills ---------------------------------------------------------------------------------------


def paid_for(facts: WorkFacts) -> dict[str, float]:
    """By remedy, in the list's currency; bills without a rate there are left out."""
    paid: dict[str, float] = {}
    for bill in facts.bills:
        amount = facts.brief.in_own_currency(bill.amount, bill.currency)
        if amount is not None:
            paid[bill.remedy] = paid.get(bill.remedy, 0.0) + amount
    return paid


def log_ratios(facts: WorkFacts, paid: Mapping[str, float]) -> list[float]:
    """What was paid over what it was estimated at when the season was set.

    Own work is left out, because no bill has its hours, and so are bills with enabling work in
    them, because the estimate has none.
    """
    apart = {bill.remedy for bill in facts.bills if bill.own or bill.includes_enabling}
    return [
        math.log(amount / facts.estimates[code])
        for code, amount in sorted(paid.items())
        if code not in apart and amount > 0 and facts.estimates.get(code, 0) > 0
    ]


# --- One remedy ----------------------------------------------------------------------------------


def callers_of(facts: WorkFacts) -> dict[str, list[Caller]]:
    """By remedy, the checkpoints that call for it, the likeliest first."""
    found: dict[str, list[Caller]] = {}
    for seen in facts.consensus["checkpoints"] if facts.consensus else ():
        entry = facts.catalogue.checkpoints.get(seen["checkpoint"])
        for trigger in entry.remedies if entry else ():
            chance = sum(
                level * called
                for level, called in zip(seen["levels"], trigger.probability, strict=True)
            )
            assert entry is not None
            caller = Caller(seen["title"], chance, entry.guarded, entry.cautions)
            found.setdefault(trigger.code, []).append(caller)
    return {code: sorted(of, key=lambda one: -one.chance) for code, of in found.items()}


def cost_if_needed(one: RemedyCost) -> float:
    """The stored expectation without the chance in it."""
    return float(one["expected"]["amount"]) / max(one["probability"], 0.001)


def _item(
    facts: WorkFacts,
    one: RemedyCost,
    callers: Sequence[Caller],
    paid: float | None,
    factor: float,
) -> WorkItem:
    code, chance = one["remedy"], one["probability"]
    entry = facts.catalogue.remedies.get(code)
    decision = facts.decisions.get(code)
    safety = any(caller.guarded and caller.chance >= SAFETY_FROM for caller in callers)
    estimate, own = cost_if_needed(one), one["done_by"] == "group"
    state, cost = _state(decision, paid, chance, safety), estimate
    if not one["quoted"]:
        cost *= factor
    if state == State.PLANNED and paid:  # a part is paid already
        cost = max(cost - paid, 0.0)
    likely = [caller for caller in callers if caller.chance >= SAFETY_FROM] or callers[:1]
    return WorkItem(
        remedy=code,
        title=one["title"],
        area=one["area"],
        state=state,
        chance=chance,
        safety=safety,
        urgent=one["urgency"] == "now",
        own=own,
        estimate=estimate,
        cost=cost,
        hours=_own_hours(facts, entry, one, estimate) if own and entry else 0,
        needs=_needs(facts.rollup, entry),
        paid=paid,
        because=tuple(caller.title for caller in likely),
        cautions=tuple(dict.fromkeys(code for caller in likely for code in caller.cautions)),
        note=decision.note if decision else "",
    )


def _done(facts: WorkFacts, code: str, amount: float) -> WorkItem:
    """Paid for, and no longer called for."""
    entry = facts.catalogue.remedies.get(code)
    estimate = facts.estimates.get(code, 0.0)
    return WorkItem(
        remedy=code,
        title=entry.title if entry else code,
        area=entry.area if entry else "",
        state=State.DONE,
        chance=0.0,
        safety=False,
        urgent=False,
        own=False,
        estimate=estimate,
        cost=estimate,
        hours=0,
        needs=(),
        paid=amount,
        because=(),
        cautions=(),
    )


def _state(decision: WorkDecision | None, paid: float | None, chance: float, safety: bool) -> State:
    if decision is not None:
        return {
            WorkDecision.Choice.PLAN: State.PLANNED,
            WorkDecision.Choice.LEAVE: State.LEFT,
            WorkDecision.Choice.DONE: State.DONE,
        }[WorkDecision.Choice(decision.choice)]
    if paid is not None:
        return State.DONE
    least = SAFETY_FROM if safety else PLANNED_FROM
    return State.PLANNED if chance >= least else State.PERHAPS


def _needs(rollup: StoredRollup, entry: RemedyEntry | None) -> tuple[str, ...]:
    """Its enabling work, unless a quote for it includes that."""
    if entry is None:
        return ()
    quotes = rollup.get("quotes", ())
    included = any(one["remedy"] == entry.code and one["includes_enabling"] for one in quotes)
    return () if included else entry.enabling


def _own_hours(facts: WorkFacts, entry: RemedyEntry, one: RemedyCost, estimate: float) -> int:
    """Likely hours of the group's own, whole: a yard's times the owner's factor, for the extent
    that the cost stands for.
    """
    built = boat_of(facts.candidate)
    on_her = entry.on(built.built_of)
    job = job_of(on_her)
    price = float(one["price"]["amount"])
    extent = estimate / price if price > 0 else more_on(on_her, built.loa_m or 0.0)
    scale = _size(facts).scale(job.scale_by, job.scale_exponent)
    return max(1, math.ceil(on_her.hours.likely * on_her.own_hours_factor * scale * extent))


def _size(facts: WorkFacts) -> Size:
    boat = boat_of(facts.candidate)
    return Size(boat.loa_m or 1.0, boat.numbers.get("displacement_kg"))


def _enabling_costs(facts: WorkFacts) -> dict[str, float]:
    """The mean price of each enabling work, once. Nothing if the boat cannot be priced."""
    works = list(facts.catalogue.enabling.values())
    if facts.rollup["missing"] or not works:
        return {}
    rates = rates_under(facts.brief, facts.catalogue)
    mean = price_jobs([job_of(work) for work in works], _size(facts), rates).prices.mean
    return {work.code: float(price) for work, price in zip(works, mean, strict=True)}
