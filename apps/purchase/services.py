"""Record and withdraw quotes; a quote never changes."""

import uuid
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.exchange_rates import currency_faults
from apps.boats.models import Candidate
from apps.boats.revisions import inputs_changed
from apps.catalogue.selectors import catalogue_snapshot, remedies_once_known
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.common.services import record_create
from apps.groups.programs import client_note
from apps.groups.rules import Action, require
from apps.purchase.models import Bill, Quote
from apps.viewings.event_records import record_event
from apps.viewings.services import future_faults


@transaction.atomic
def quote_add(
    *,
    candidate: Candidate,
    by: Person,
    remedy: str,
    amount: Decimal,
    currency: str,
    firmness: str,
    from_whom: str,
    dated_on: date,
    valid_until: date | None = None,
    includes_enabling: bool = False,
    scope: str = "",
    low: Decimal | None = None,
    high: Decimal | None = None,
    id: uuid.UUID | None = None,
) -> Quote:
    """A quote for a remedy on a candidate. Raises `Invalid` with pointers to all faults.

    low, high: the range of a surveyor's estimate.
    """
    group_id = candidate.list.group_id
    require(by, Action.ADD, group_id)
    require_no_faults(
        [
            *remedy_faults(remedy, group_id),
            *currency_faults(candidate.list, currency, "/price/currency"),
            *_date_faults(dated_on, valid_until),
        ]
    )
    quote = Quote(
        candidate=candidate,
        remedy_id=remedy,
        amount=amount,
        currency=currency,
        firmness=firmness,
        includes_enabling=includes_enabling,
        from_whom=from_whom,
        scope=scope,
        dated_on=dated_on,
        valid_until=valid_until,
        low=low,
        high=high,
        added_by=by,
    )
    client_note(record=quote, by=by, group_id=group_id)
    record_create(quote, id)
    inputs_changed(candidate.list_id)
    record_event("quote.added", quote, quote.candidate, by)
    return quote


def remedy_faults(code: str, group_id: uuid.UUID) -> list[FieldFault]:
    if code in catalogue_snapshot(group_id).catalogue.remedies:
        return []
    if code in remedies_once_known([code], group_id):
        return [FieldFault("/remedy", "retired", f"{code!r} is no longer in the catalogue.")]
    return [FieldFault("/remedy", "unknown", f"The catalogue has no remedy {code!r}.")]


def _date_faults(dated_on: date, valid_until: date | None) -> list[FieldFault]:
    faults = future_faults("/dated_on", dated_on)
    if valid_until is not None and valid_until < dated_on:
        faults.append(
            FieldFault(
                "/valid_until", "before_its_date", "The quote would end before its own date."
            )
        )
    return faults


@transaction.atomic
def withdraw(*, record: Quote | Bill, by: Person, expected_version: int) -> None:
    """Withdraw a quote or a bill, which is kept. Raises `Conflict` if it was withdrawn already.

    Without the quote, the catalogue's estimate counts again.
    """
    require(by, Action.ADD, record.candidate.list.group_id)
    require_not_withdrawn(record)
    record.withdrawn_at = timezone.now()
    record.save_changes(expected_version=expected_version, fields=["withdrawn_at"])
    if isinstance(record, Quote):
        inputs_changed(record.candidate.list_id)
    kind = "quote.withdrawn" if isinstance(record, Quote) else "bill.withdrawn"
    record_event(kind, record, record.candidate, by)


def require_not_withdrawn(record: Quote | Bill) -> None:
    if record.withdrawn_at is not None:
        raise Conflict("withdrawn", "It was withdrawn already.")
