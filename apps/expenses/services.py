"""Open a ledger, and add entries to it. Nothing in it is changed or deleted."""

import uuid
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import Conflict, FieldFault, Stale, require_no_faults
from apps.common.hash_chain import chained, record_text
from apps.common.services import record_create
from apps.events.services import event_record
from apps.expenses.models import EntryPart, Ledger, LedgerEntry
from apps.expenses.records import CENT, entry_facts
from apps.expenses.sharing import Sharing, members_of, parts_of, people_faults, weights_of
from apps.groups.models import Group
from apps.groups.programs import client_note
from apps.groups.rules import Action, require
from apps.http.fields import CurrencyAmount
from apps.viewings.services import future_faults

# The largest amount that an entry holds.
MOST = Decimal("999999999999.99")


@dataclass(frozen=True)
class ExchangeRate:
    """The value of one unit of the currency paid in the ledger's, with its source and day."""

    rate: Decimal
    known_from: str
    on: date


@dataclass(frozen=True)
class PaidSum:
    """Who paid which sum on which day, and in words for what."""

    by: uuid.UUID
    sum: CurrencyAmount
    on: date
    what: str
    note: str = ""
    exchange: ExchangeRate | None = None


@transaction.atomic
def ledger_set(
    *, group: Group, by: Person, currency: str, expected_version: int | None = None
) -> Ledger:
    """Open the group's ledger in a currency, or change that while there is no entry.

    Raises `Conflict` with entries, `Stale` if the ledger is there and no version was named.
    """
    require(by, Action.ACCOUNT, group.pk)
    ledger = Ledger.objects.select_for_update().filter(group=group).first()
    if ledger is None:
        return _open(group, by, currency)
    if expected_version is None:
        raise Stale
    if ledger.entries_made and currency != ledger.currency:
        raise Conflict("has_entries", "Amounts are entered already: the currency stays.")
    ledger.currency = currency
    ledger.save_changes(expected_version=expected_version, fields=["currency"])
    return ledger


def _open(group: Group, by: Person, currency: str) -> Ledger:
    try:
        with transaction.atomic():
            ledger = Ledger.objects.create(group=group, currency=currency)
    except IntegrityError as error:  # somebody else opened it at the same time
        raise Stale from error
    event_record(
        group_id=group.pk,
        kind="ledger.opened",
        thing="ledger",
        thing_id=ledger.pk,
        by_id=by.pk,
        facts={"currency": currency},
    )
    return ledger


@transaction.atomic
def expense_add(
    *,
    group: Group,
    by: Person,
    paid: PaidSum,
    sharing: Sharing,
    purpose: str = LedgerEntry.Purpose.OTHER,
    candidate: uuid.UUID | None = None,
    id: uuid.UUID | None = None,
) -> LedgerEntry:
    """Somebody paid for several people. Raises `Invalid` with pointers to all faults."""
    require(by, Action.ACCOUNT, group.pk)
    ledger = _locked(group)
    members = members_of(group)
    weights, faults = weights_of(sharing, members)
    amount, more = _in_ledger(paid, ledger)
    require_no_faults(
        [
            *faults,
            *more,
            *people_faults({"/paid_by": paid.by}, members),
            *_candidate_faults(candidate, group),
        ]
    )
    entry = _entry(ledger, by, paid, amount)
    entry.kind, entry.rule, entry.purpose = LedgerEntry.Kind.EXPENSE, sharing.rule, purpose
    entry.candidate_id = candidate
    return _add(entry, parts_of(amount, weights, ledger.entries_made), id)


@transaction.atomic
def payment_add(
    *, group: Group, by: Person, paid: PaidSum, to: uuid.UUID, id: uuid.UUID | None = None
) -> LedgerEntry:
    """Somebody paid somebody of the group, to settle. Raises `Invalid`."""
    require(by, Action.ACCOUNT, group.pk)
    ledger = _locked(group)
    amount, faults = _in_ledger(paid, ledger)
    faults += people_faults({"/paid_by": paid.by, "/to": to}, members_of(group))
    if paid.by == to:
        faults.append(FieldFault("/to", "same_person", "Nobody pays themselves."))
    require_no_faults(faults)
    entry = _entry(ledger, by, paid, amount)
    entry.kind = LedgerEntry.Kind.PAYMENT
    return _add(entry, [EntryPart(person_id=to, amount=amount)], id)


@transaction.atomic
def entry_reverse(
    *, entry: LedgerEntry, by: Person, reason: str, on: date, id: uuid.UUID | None = None
) -> LedgerEntry:
    """Take an entry back by another one. Raises `Conflict` if that was done, or is one itself."""
    require(by, Action.ACCOUNT, entry.ledger.group_id)
    ledger = _locked(entry.ledger.group)
    if entry.kind == LedgerEntry.Kind.REVERSAL:
        raise Conflict("a_reversal", "This entry takes another one back: enter that one again.")
    if LedgerEntry.objects.filter(reverses=entry).exists():
        raise Conflict("reversed_already", "The entry was taken back already.")
    require_no_faults(future_faults("/paid_on", on))
    parts = [
        EntryPart(person_id=part.person_id, weight=part.weight, amount=-part.amount)
        for part in entry.parts.all()
    ]
    reversal = LedgerEntry(
        ledger=ledger,
        kind=LedgerEntry.Kind.REVERSAL,
        purpose=entry.purpose,
        rule=entry.rule,
        what=f"Taken back: {entry.what}"[:200],
        note=reason,
        candidate=entry.candidate,
        paid_by=entry.paid_by,
        paid_on=on,
        amount=-entry.amount,
        paid_amount=-entry.paid_amount,
        paid_currency=entry.paid_currency,
        rate=entry.rate,
        rate_known_from=entry.rate_known_from,
        rate_on=entry.rate_on,
        reverses=entry,
        added_by=by,
    )
    return _add(reversal, parts, id)


def _locked(group: Group) -> Ledger:
    """The group's ledger, until the transaction ends. Raises `Conflict` if there is none."""
    ledger = Ledger.objects.select_for_update().filter(group=group).first()
    if ledger is None:
        raise Conflict("no_ledger", "The group has no ledger yet: open it with its currency.")
    return ledger


def _in_ledger(paid: PaidSum, ledger: Ledger) -> tuple[Decimal, list[FieldFault]]:
    """The sum in the ledger's currency, rounded to a cent half to even."""
    faults = future_faults("/paid_on", paid.on)
    own = ledger.currency
    if paid.sum.currency == own:
        if paid.exchange is not None:
            faults.append(FieldFault("/exchange", "not_needed", f"The ledger is in {own}."))
        return paid.sum.amount, faults
    if paid.exchange is None:
        text = f"Give the value of one {paid.sum.currency} in {own}, with its source and day."
        return Decimal(0), [*faults, FieldFault("/exchange", "no_exchange_rate", text)]
    faults += future_faults("/exchange/on", paid.exchange.on)
    amount = paid.sum.amount * paid.exchange.rate
    if amount > MOST:
        text = f"In {own} it is more than can be entered: {MOST}."
        return Decimal(0), [*faults, FieldFault("/exchange/rate", "max_value", text)]
    return amount.quantize(CENT, ROUND_HALF_EVEN), faults


def _candidate_faults(candidate: uuid.UUID | None, group: Group) -> list[FieldFault]:
    if candidate is None or Candidate.objects.filter(pk=candidate, list__group=group).exists():
        return []
    return [FieldFault("/candidate", "unknown", f"The group has no boat {candidate}.")]


def _entry(ledger: Ledger, by: Person, paid: PaidSum, amount: Decimal) -> LedgerEntry:
    entry = LedgerEntry(
        ledger=ledger,
        what=paid.what,
        note=paid.note,
        paid_by_id=paid.by,
        paid_on=paid.on,
        amount=amount,
        paid_amount=paid.sum.amount,
        paid_currency=paid.sum.currency,
        added_by=by,
    )
    if paid.exchange is not None:
        entry.rate, entry.rate_known_from = paid.exchange.rate, paid.exchange.known_from
        entry.rate_on = paid.exchange.on
    return entry


def _add(entry: LedgerEntry, parts: list[EntryPart], id: uuid.UUID | None) -> LedgerEntry:
    """Store the entry at the end of its ledger, chained to the one before."""
    ledger, by = entry.ledger, entry.added_by
    entry.number = ledger.entries_made + 1
    entry.record = record_text(entry_facts(entry, parts))
    entry.digest = chained(ledger.digest, entry.record)
    client_note(record=entry, by=by, group_id=ledger.group_id)
    record_create(entry, id)
    for place, part in enumerate(parts):
        part.entry, part.place = entry, place
    EntryPart.objects.bulk_create(parts)
    ledger.entries_made, ledger.digest = entry.number, entry.digest
    ledger.save_changes(fields=["entries_made", "digest"])
    event_record(
        group_id=ledger.group_id,
        kind=f"entry.{EVENTS[LedgerEntry.Kind(entry.kind)]}",
        thing="entry",
        thing_id=entry.pk,
        by_id=by.pk,
        facts=_about(entry),
    )
    return entry


def _about(entry: LedgerEntry) -> dict[str, str | int]:
    """Its number, and its boat if it has one. Not everybody in the group sees more of it."""
    facts: dict[str, str | int] = {"number": entry.number}
    if entry.candidate is not None:
        facts |= {"list": str(entry.candidate.list_id), "candidate": str(entry.candidate.pk)}
    return facts


EVENTS = {
    LedgerEntry.Kind.EXPENSE: "expense_added",
    LedgerEntry.Kind.PAYMENT: "payment_added",
    LedgerEntry.Kind.REVERSAL: "reversed",
}
