"""The board as it would be if some inputs were different. Nothing is stored.

It runs the same computation on a changed copy of the inputs, without the opinions that are hidden
from the person who asks. People can change only what is on a list that they see.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TypedDict

from django.utils import timezone

from apps.accounts.models import Person
from apps.appraisal.board.answer import AdviceRead, JudgedRead, advice_serialized, to_be_judged
from apps.appraisal.board.board import row
from apps.appraisal.compute.bounds import require_small_enough
from apps.appraisal.compute.computing import METHOD, Computed, compute
from apps.appraisal.compute.inputs import BoatInputs, Inputs, read_inputs
from apps.appraisal.opinions import Reader
from apps.appraisal.reading import names_of
from apps.appraisal.stored.parts import Range, StoredCondition
from apps.appraisal.words.changes import ComparedFigures
from apps.appraisal.words.changes import changed as changed_in_words
from apps.appraisal.words.phrases import Names
from apps.appraisal.words.sentences import CAUTION
from apps.boats.selectors import list_for
from apps.catalogue.applicability import applies
from apps.common.errors import FieldFault, require_no_faults
from apps.common.shapes import IdAndName
from apps.http.fields import CurrencyAmount
from apps.purchase.facts import LiveQuote
from apps.viewings.facts import ConditionsMet, LiveFinding
from apps.viewings.models import Finding, Submission


@dataclass(frozen=True)
class PriceChange:
    candidate_id: uuid.UUID
    asking: CurrencyAmount


@dataclass(frozen=True)
class QuoteChange:
    """A fixed price for a remedy on a boat, in place of the quote that counts now, if any."""

    candidate_id: uuid.UUID
    remedy: str
    price: CurrencyAmount
    includes_enabling: bool = False


@dataclass(frozen=True)
class FindingChange:
    """A level as if a surveyor had just reported it, and nobody had reported another."""

    candidate_id: uuid.UUID
    checkpoint: str
    level: int


@dataclass(frozen=True)
class WhatIfChanges:
    """The changes; None means no change.

    Budget and rate are in the list's currency, prices and quotes in any that it has a rate for.
    """

    budget: CurrencyAmount | None = None
    yard_hourly_rate: CurrencyAmount | None = None
    own_remedies: tuple[str, ...] | None = None
    own_hours: int | None = None
    prices: tuple[PriceChange, ...] = ()
    quotes: tuple[QuoteChange, ...] = ()
    findings: tuple[FindingChange, ...] = ()
    without_person: uuid.UUID | None = None

    @property
    def of_belief(self) -> bool:
        """Whether the findings change, and not only money."""
        return bool(self.findings) or self.without_person is not None


class OpenStanding(ComparedFigures):
    """A row of the board without buyers' opinions, which may be hidden from the reader."""

    later: Range | None
    condition: StoredCondition
    open_doubts: int
    strike_off_advised: bool
    advice: list[AdviceRead]
    before_buying: list[JudgedRead]


class BoatCompared(TypedDict):
    candidate_id: str
    name: str
    now: OpenStanding
    then: OpenStanding
    sentence: str


class WhatIf(TypedDict):
    list: IdAndName
    revision: int
    method: str
    caution: str
    candidates: list[BoatCompared]


def what_if(person: Person, list_id: uuid.UUID, changes: WhatIfChanges) -> WhatIf:
    """The board as it is and would be, boat by boat. Raises `Invalid` for impossible changes."""
    candidate_list = list_for(person, list_id)
    inputs = read_inputs(list_id).seen_by(Reader.of(person, candidate_list))
    require_small_enough(inputs)
    require_no_faults(faults_of(changes, inputs))
    now = compute(inputs)
    believed = None if changes.of_belief else now.believed
    then = compute(changed(inputs, changes), believed=believed)
    return {
        "list": {"id": str(list_id), "name": candidate_list.name},
        "revision": candidate_list.inputs_revision,
        "method": METHOD,
        "caution": CAUTION,
        "candidates": compared(now, then, names_of(candidate_list)),
    }


def compared(now: Computed, then: Computed, names: Names) -> list[BoatCompared]:
    """Each boat before and after, in the order after the changes; struck-off ones last."""
    struck_off = [i for i, boat in enumerate(then.inputs.boats) if boat.struck_off]
    return [_compared(now, then, i, names) for i in (*then.standing.order, *struck_off)]


def _compared(now: Computed, then: Computed, i: int, names: Names) -> BoatCompared:
    boat = str(now.inputs.boats[i].id)
    before, after = standing_of(now, i, names), standing_of(then, i, names)
    return {
        "candidate_id": boat,
        "name": names.boat(boat),
        "now": before,
        "then": after,
        "sentence": changed_in_words(before, after),
    }


def standing_of(computed: Computed, i: int, names: Names) -> OpenStanding:
    full = row(computed, i)
    return {
        "place": full["place"],
        "upfront": full["upfront"],
        "later": full["later"],
        "all_in": full["all_in"],
        "within_budget": full["within_budget"],
        "condition": full["condition"],
        "missing": full["missing"],
        "open_doubts": full["open_doubts"],
        "strike_off_advised": bool(full["advice"]),
        "advice": [advice_serialized(one, names) for one in full["advice"]],
        "before_buying": to_be_judged(full.get("before_buying", ())),
    }


# --- Changed inputs ------------------------------------------------------------------------------


NOBODY = uuid.UUID(int=0)


def changed(inputs: Inputs, changes: WhatIfChanges) -> Inputs:
    """A copy of the inputs with the changes made."""
    brief = inputs.brief
    if changes.budget is not None:
        brief = replace(brief, budget=float(changes.budget.amount))
    if changes.yard_hourly_rate is not None:
        brief = replace(brief, yard_hourly_rate=float(changes.yard_hourly_rate.amount))
    if changes.own_remedies is not None:
        brief = replace(brief, own_remedies=changes.own_remedies)
    if changes.own_hours is not None:
        brief = replace(brief, own_hours=float(changes.own_hours))
    prices = {change.candidate_id: change.asking for change in changes.prices}
    return replace(
        inputs,
        brief=brief,
        boats=tuple(_repriced(boat, prices) for boat in inputs.boats),
        quotes=_quotes(inputs, changes),
        findings=_findings(inputs, changes),
    )


def _repriced(boat: BoatInputs, prices: Mapping[uuid.UUID, CurrencyAmount]) -> BoatInputs:
    if boat.id not in prices:
        return boat
    asking = prices[boat.id]
    # What if she cost this: instead of the offer on the table, if there is one.
    return replace(
        boat, asking_amount=float(asking.amount), asking_currency=asking.currency, offer=None
    )


def _quotes(inputs: Inputs, changes: WhatIfChanges) -> tuple[LiveQuote, ...]:
    tried = {(change.candidate_id, change.remedy): change for change in changes.quotes}
    kept = tuple(one for one in inputs.quotes if (one.candidate_id, one.remedy) not in tried)
    return kept + tuple(_as_quoted(change) for change in tried.values())


def _as_quoted(change: QuoteChange) -> LiveQuote:
    return LiveQuote(
        id=NOBODY,
        candidate_id=change.candidate_id,
        remedy=change.remedy,
        amount=float(change.price.amount),
        currency=change.price.currency,
        firmness="fixed",
        includes_enabling=change.includes_enabling,
        from_whom="",
        dated_on=timezone.localdate(),
        valid_until=None,
        expired=False,
    )


def _findings(inputs: Inputs, changes: WhatIfChanges) -> tuple[LiveFinding, ...]:
    settled = {(change.candidate_id, change.checkpoint) for change in changes.findings}
    kept = tuple(
        finding
        for finding in inputs.findings
        if (finding.candidate_id, finding.checkpoint) not in settled
        and finding.author_id != changes.without_person
    )
    return kept + tuple(_as_if(change) for change in changes.findings)


UNKNOWN = ConditionsMet("", None, "", None, None, None, "", "")


def _as_if(change: FindingChange) -> LiveFinding:
    now = datetime.now(UTC)
    return LiveFinding(
        checkpoint=change.checkpoint,
        checkpoint_version_id=0,
        kind=Finding.Kind.LOOKED,
        level=change.level,
        reason="",
        sureness="sure",
        measured_value=None,
        measured_unit="",
        candidate_id=change.candidate_id,
        submission_id=NOBODY,
        author_id=NOBODY,
        author_name="",
        capacity=Submission.Capacity.PROFESSIONAL,
        profession="surveyor",
        viewing_id=NOBODY,
        seen_at=now,
        submitted_at=now,
        conditions=UNKNOWN,
    )


# --- Impossible changes --------------------------------------------------------------------------


def faults_of(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    """A fault with its pointer for everything that is not on the list."""
    return [
        *_money_faults(changes, inputs),
        *_remedy_faults(changes, inputs),
        *_candidate_faults(changes, inputs),
        *_checkpoint_faults(changes, inputs),
        *_person_faults(changes, inputs),
    ]


def _money_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    brief, faults = inputs.brief, []
    for name in ("budget", "yard_hourly_rate"):
        money = getattr(changes, name)
        if money is not None and money.currency != brief.currency:
            faults.append(
                FieldFault(
                    f"/{name}/currency", "other_currency", f"This list is in {brief.currency}."
                )
            )
    amounts = [
        *((f"/prices/{n}/asking", change.asking) for n, change in enumerate(changes.prices)),
        *((f"/quotes/{n}/price", change.price) for n, change in enumerate(changes.quotes)),
    ]
    return faults + [
        FieldFault(
            f"{at}/currency",
            "no_exchange_rate",
            f"The brief has no exchange rate for {amount.currency}.",
        )
        for at, amount in amounts
        if brief.in_own_currency(1.0, amount.currency) is None
    ]


def _remedy_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    known = inputs.snapshot.catalogue.remedies
    named = [
        *((f"/own_remedies/{n}", code) for n, code in enumerate(changes.own_remedies or ())),
        *((f"/quotes/{n}/remedy", change.remedy) for n, change in enumerate(changes.quotes)),
    ]
    return [
        FieldFault(at, "unknown_remedy", f"There is no remedy {code!r}.")
        for at, code in named
        if code not in known
    ]


def _candidate_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    on_list = {boat.id for boat in inputs.boats}
    named = [
        *((f"/prices/{n}", change.candidate_id) for n, change in enumerate(changes.prices)),
        *((f"/quotes/{n}", change.candidate_id) for n, change in enumerate(changes.quotes)),
        *((f"/findings/{n}", change.candidate_id) for n, change in enumerate(changes.findings)),
    ]
    return [
        FieldFault(f"{at}/candidate_id", "not_on_the_list", "This list has no such candidate.")
        for at, candidate_id in named
        if candidate_id not in on_list
    ]


def _checkpoint_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    checkpoints = inputs.snapshot.catalogue.checkpoints
    boats = {boat.id: boat for boat in inputs.boats}
    faults = []
    for n, change in enumerate(changes.findings):
        checkpoint, boat = checkpoints.get(change.checkpoint), boats.get(change.candidate_id)
        at = f"/findings/{n}/checkpoint"
        if checkpoint is None:
            detail = f"There is no checkpoint {change.checkpoint!r}."
            faults.append(FieldFault(at, "unknown_checkpoint", detail))
        elif boat is not None and not applies(checkpoint, boat.built_of):
            detail = f"“{checkpoint.title}” does not apply to this boat."
            faults.append(FieldFault(at, "does_not_apply", detail))
    return faults


def _person_faults(changes: WhatIfChanges, inputs: Inputs) -> list[FieldFault]:
    authors = {finding.author_id for finding in inputs.findings}
    if changes.without_person is None or changes.without_person in authors:
        return []
    return [
        FieldFault("/without_person", "found_nothing", "This person has no findings on the list.")
    ]
