"""Quotes and bills of a whole list as plain facts, for no particular reader."""

import uuid
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from django.utils import timezone

from apps.boats.selectors import ListIds
from apps.purchase.models import Bill, Quote


@dataclass(frozen=True)
class LiveQuote:
    """The quote that counts for one remedy on one candidate; the amount is in its own currency.

    surveyed_on: when a surveyor last priced the remedy, whosever quote counts.
    """

    id: uuid.UUID
    candidate_id: uuid.UUID
    remedy: str
    amount: float
    currency: str
    firmness: Literal["fixed", "estimate"]
    includes_enabling: bool
    from_whom: str
    dated_on: date
    valid_until: date | None
    expired: bool
    low: float | None = None
    high: float | None = None
    surveyed_on: date | None = None

    @property
    def fixed(self) -> bool:
        return self.firmness == "fixed"


def list_quotes(list_id: uuid.UUID, today: date | None = None) -> list[LiveQuote]:
    """One quote for each candidate and remedy: the newest valid one, else the newest. One query.

    An expired quote is still better than the catalogue's estimate; `expired` marks it. A surveyor's
    estimate, which has a range, counts where no yard's quote is valid.
    """
    today = today or timezone.localdate()
    quotes = Quote.objects.filter(candidate__list_id=list_id, withdrawn_at=None)
    facts = [_live_quote(quote, today) for quote in quotes.order_by("dated_on", "pk")]
    # Later ones replace earlier ones: valid after expired, yards' after surveyors', then by date.
    surveyed = {
        (one.candidate_id, one.remedy): one.dated_on for one in facts if one.low is not None
    }
    facts.sort(key=lambda quote: (not quote.expired, quote.low is None))
    counts = {(quote.candidate_id, quote.remedy): quote for quote in facts}
    return [replace(quote, surveyed_on=surveyed.get(of)) for of, quote in counts.items()]


def _live_quote(quote: Quote, today: date) -> LiveQuote:
    return LiveQuote(
        id=quote.id,
        candidate_id=quote.candidate_id,
        remedy=quote.remedy_id,
        amount=float(quote.amount),
        currency=quote.currency,
        firmness="fixed" if quote.firmness == Quote.Firmness.FIXED else "estimate",
        includes_enabling=quote.includes_enabling,
        from_whom=quote.from_whom,
        dated_on=quote.dated_on,
        valid_until=quote.valid_until,
        expired=quote.valid_until is not None and quote.valid_until < today,
        low=None if quote.low is None else float(quote.low),
        high=None if quote.high is None else float(quote.high),
    )


@dataclass(frozen=True)
class LiveBill:
    """A bill that was not withdrawn; the amount is in its own currency."""

    id: uuid.UUID
    candidate_id: uuid.UUID
    remedy: str
    amount: float
    currency: str
    own: bool
    includes_enabling: bool
    dated_on: date


def bills_on(list_ids: ListIds) -> list[LiveBill]:
    """Every live bill on the lists, oldest first. One query."""
    bills = Bill.objects.filter(candidate__list_id__in=list_ids, withdrawn_at=None)
    return [
        LiveBill(
            id=bill.id,
            candidate_id=bill.candidate_id,
            remedy=bill.remedy_id,
            amount=float(bill.amount),
            currency=bill.currency,
            own=bill.done_by == Bill.DoneBy.OWN,
            includes_enabling=bill.includes_enabling,
            dated_on=bill.dated_on,
        )
        for bill in bills.order_by("dated_on", "pk")
    ]
