"""The changes of a question "what if", and the inputs with them made."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from django.utils import timezone

from apps.appraisal.compute.inputs import BoatInputs, Inputs
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
