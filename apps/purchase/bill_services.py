"""Record, correct and withdraw bills.

No result of the list depends on a bill, so nothing is recomputed.
"""

import uuid
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction

from apps.accounts.models import Person
from apps.boats.exchange_rates import currency_faults
from apps.boats.models import Candidate
from apps.common.errors import require_no_faults
from apps.common.services import record_create
from apps.groups.programs import client_note
from apps.groups.rules import Action, require
from apps.purchase.models import Bill
from apps.purchase.services import remedy_faults, require_not_withdrawn
from apps.viewings.event_records import record_event
from apps.viewings.services import future_faults


@transaction.atomic
def bill_add(
    *,
    candidate: Candidate,
    by: Person,
    remedy: str,
    amount: Decimal,
    currency: str,
    done_by: str,
    document: str,
    dated_on: date,
    includes_enabling: bool = False,
    note: str = "",
    id: uuid.UUID | None = None,
) -> Bill:
    """The final cost of a remedy on a candidate. Raises `Invalid` with pointers to all faults."""
    group_id = candidate.list.group_id
    require(by, Action.ADD, group_id)
    require_no_faults(
        [
            *remedy_faults(remedy, group_id),
            *currency_faults(candidate.list, currency, "/paid/currency"),
            *future_faults("/dated_on", dated_on),
        ]
    )
    bill = Bill(
        candidate=candidate,
        remedy_id=remedy,
        amount=amount,
        currency=currency,
        done_by=done_by,
        includes_enabling=includes_enabling,
        document=document,
        dated_on=dated_on,
        note=note,
        added_by=by,
    )
    client_note(record=bill, by=by, group_id=group_id)
    record_create(bill, id)
    record_event("bill.added", bill, bill.candidate, by)
    return bill


@transaction.atomic
def bill_change(*, bill: Bill, by: Person, expected_version: int, **facts: Any) -> Bill:
    """Correct a bill: only the given fields change. Raises `Conflict` if it was withdrawn."""
    require(by, Action.ADD, bill.candidate.list.group_id)
    require_not_withdrawn(bill)
    faults = []
    if "currency" in facts:
        faults += currency_faults(bill.candidate.list, facts["currency"], "/paid/currency")
    if "dated_on" in facts:
        faults += future_faults("/dated_on", facts["dated_on"])
    require_no_faults(faults)
    for name, value in facts.items():
        setattr(bill, name, value)
    bill.save_changes(expected_version=expected_version, fields=list(facts))
    record_event("bill.changed", bill, bill.candidate, by)
    return bill
