"""Reads of ledgers, for those who keep them: organisers and buyers."""

import csv
import io
import uuid
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.common.csv_cells import harmless
from apps.expenses.models import EntryPart, Ledger, LedgerEntry
from apps.expenses.records import CENT
from apps.groups.models import Group
from apps.groups.rules import Action, actions_of, require
from apps.groups.selectors import group_for
from apps.reckoning.settling import settling_payments


@dataclass(frozen=True)
class Balance:
    """What one person paid and owes in all; `balance`: what they are to get, or less than 0."""

    person: Person
    paid: Decimal
    owed: Decimal

    @property
    def balance(self) -> Decimal:
        return self.paid - self.owed


@dataclass(frozen=True)
class ProposedPayment:
    payer: Person
    payee: Person
    amount: Decimal


@dataclass(frozen=True)
class Account:
    """A ledger with the balance of everybody in it, and the fewest payments that settle."""

    ledger: Ledger
    balances: list[Balance]
    payments: list[ProposedPayment]


def ledger_of(person: Person, group_id: uuid.UUID) -> Ledger:
    """Raises `NotVisible`, `NotAllowed`, `Http404` if the group has none."""
    require(person, Action.ACCOUNT, group_id)
    return get_object_or_404(Ledger.objects.select_related("group"), group=group_id)


def ledger_if_any(person: Person, group_id: uuid.UUID) -> tuple[Group, Ledger | None]:
    require(person, Action.ACCOUNT, group_id)
    return group_for(person, group_id), Ledger.objects.filter(group=group_id).first()


def account_of(person: Person, group_id: uuid.UUID) -> Account:
    """The balances of everybody in the group's ledger, who gets most first. Five queries."""
    ledger = ledger_of(person, group_id)
    paid = _sums(LedgerEntry.objects.filter(ledger=ledger), "paid_by")
    owed = _sums(EntryPart.objects.filter(entry__ledger=ledger), "person")
    people = Person.objects.in_bulk(paid.keys() | owed.keys())
    balances = [Balance(one, paid[id], owed[id]) for id, one in people.items()]
    balances.sort(key=lambda one: (-one.balance, one.person.name, one.person.pk))
    payments = [
        ProposedPayment(
            balances[payment.payer].person, balances[payment.payee].person, payment.amount * CENT
        )
        for payment in settling_payments([int(one.balance / CENT) for one in balances])
    ]
    return Account(ledger, balances, payments)


def account_if_any(person: Person, group_id: uuid.UUID) -> Account | None:
    """The same for a report on other things: None for those who may not see it, or without one."""
    opened = person.via is None or person.via.allows("expenses:read")
    if not opened or Action.ACCOUNT not in actions_of(person, group_id):
        return None
    there = Ledger.objects.filter(group=group_id).exists()
    return account_of(person, group_id) if there else None


def _sums(
    rows: QuerySet[LedgerEntry] | QuerySet[EntryPart], person: str
) -> defaultdict[uuid.UUID, Decimal]:
    """The sum of the amounts of each person."""
    # They are added in Python, because SQLite would add them as floats.
    sums: defaultdict[uuid.UUID, Decimal] = defaultdict(lambda: Decimal("0.00"))
    for id, amount in rows.values_list(person, "amount"):
        sums[id] += amount
    return sums


def entries_of(person: Person, group_id: uuid.UUID) -> QuerySet[LedgerEntry]:
    """The entries of the group's ledger, the latest first."""
    require(person, Action.ACCOUNT, group_id)
    return _whole().filter(ledger__group=group_id).order_by("-number")


def entry_for(person: Person, entry_id: uuid.UUID) -> LedgerEntry:
    """One entry. Raises `Http404`, `NotVisible`, `NotAllowed`."""
    entry = get_object_or_404(_whole(), pk=entry_id)
    require(person, Action.ACCOUNT, entry.ledger.group_id)
    return entry


def _whole() -> QuerySet[LedgerEntry]:
    return LedgerEntry.objects.select_related(
        "ledger__group", "paid_by", "added_by", "candidate", "reverses", "reversed_by"
    ).prefetch_related("parts__person")


# The names of the columns, and how each cell is read. Amounts are numbers, which no spreadsheet
# evaluates.
COLUMNS: dict[str, Callable[[LedgerEntry], object]] = {
    "number": lambda entry: entry.number,
    "kind": lambda entry: entry.kind,
    "paid_on": lambda entry: entry.paid_on.isoformat(),
    "what": lambda entry: entry.what,
    "purpose": lambda entry: entry.purpose,
    "boat": lambda entry: entry.candidate and entry.candidate.name,
    "paid_by": lambda entry: entry.paid_by.name,
    "amount": lambda entry: entry.amount,
    "currency": lambda entry: entry.ledger.currency,
    "paid_amount": lambda entry: entry.paid_amount,
    "paid_currency": lambda entry: entry.paid_currency,
    "rate": lambda entry: f"{entry.rate.normalize():f}",
    "rate_known_from": lambda entry: entry.rate_known_from,
    "rate_on": lambda entry: entry.rate_on and entry.rate_on.isoformat(),
    "rule": lambda entry: entry.rule,
    "reverses": lambda entry: entry.reverses and entry.reverses.number,
    "added_by": lambda entry: entry.added_by.name,
    "note": lambda entry: entry.note,
    "digest": lambda entry: entry.digest,
}


def ledger_csv(person: Person, group_id: uuid.UUID) -> str:
    """The ledger as a table (RFC 4180), oldest first: a row for each entry, a column for each
    person with what they owe of it."""
    ledger_of(person, group_id)
    entries = list(entries_of(person, group_id).order_by("number"))
    people = {part.person_id: part.person for entry in entries for part in entry.parts.all()}
    order = sorted(people.values(), key=lambda one: (one.name, one.pk))
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow([*COLUMNS, *(f"owed by {one.name}" for one in order)])
    for entry in entries:
        owed = {part.person_id: part.amount for part in entry.parts.all()}
        cells = [*(read(entry) for read in COLUMNS.values()), *(owed.get(one.pk) for one in order)]
        table.writerow([harmless(cell) for cell in cells])
    return out.getvalue()
