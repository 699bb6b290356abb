"""What the digest of an entry covers, and checks that a ledger was only ever added to."""

import json
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import count

from apps.common.hash_chain import first_break
from apps.expenses.models import EntryPart, Ledger, LedgerEntry

CENT = Decimal("0.01")


def entry_facts(entry: LedgerEntry, parts: Sequence[EntryPart]) -> dict[str, object]:
    """Everything in the entry but the time at which it was stored. parts: in their order."""
    return {
        "number": entry.number,
        "kind": entry.kind,
        "purpose": entry.purpose,
        "rule": entry.rule,
        "what": entry.what,
        "note": entry.note,
        "candidate": _id(entry.candidate_id),
        "paid_by": _id(entry.paid_by_id),
        "paid_on": entry.paid_on.isoformat(),
        "amount": f"{entry.amount:.2f}",
        "paid_amount": f"{entry.paid_amount:.2f}",
        "paid_currency": entry.paid_currency,
        "rate": f"{entry.rate:.8f}",
        "rate_known_from": entry.rate_known_from,
        "rate_on": entry.rate_on.isoformat() if entry.rate_on else None,
        "reverses": entry.reverses.number if entry.reverses else None,
        "added_by": _id(entry.added_by_id),
        "parts": [
            {
                "person": _id(part.person_id),
                "weight": f"{part.weight:.6f}",
                "amount": f"{part.amount:.2f}",
            }
            for part in parts
        ],
    }


def _id(id: uuid.UUID | None) -> str | None:
    return None if id is None else str(id)


@dataclass(frozen=True)
class LedgerFault:
    """What is wrong at one entry; number 0: with the ledger as a whole."""

    number: int
    sentence: str


def ledger_faults(ledger: Ledger) -> list[LedgerFault]:
    """Every fault of the ledger: gaps, digests that do not follow, changed entries. Two queries."""
    entries = list(
        ledger.entries.select_related("reverses").prefetch_related("parts").order_by("number")
    )
    return [*_gaps(ledger, entries), *_broken_chain(ledger, entries), *_changed(entries)]


def _gaps(ledger: Ledger, entries: list[LedgerEntry]) -> Iterator[LedgerFault]:
    if [entry.number for entry in entries] != list(range(1, ledger.entries_made + 1)):
        yield LedgerFault(0, f"{ledger.entries_made} entries were made; {len(entries)} are here.")


def _broken_chain(ledger: Ledger, entries: list[LedgerEntry]) -> Iterator[LedgerFault]:
    place = first_break((entry.record, entry.digest) for entry in entries)
    if place is not None:
        yield LedgerFault(entries[place].number, "Its digest does not follow from the one before.")
    elif ledger.digest != (entries[-1].digest if entries else ""):
        yield LedgerFault(0, "The ledger's digest is not that of its last entry.")


def _changed(entries: list[LedgerEntry]) -> Iterator[LedgerFault]:
    """Entries that are not what was entered.

    An import gives new ids to people and boats, so ids count by the order in which they appear.
    """
    then, now = Renumbering(), Renumbering()
    for entry in entries:
        entered = then.without_ids(json.loads(entry.record))
        if entered != now.without_ids(entry_facts(entry, list(entry.parts.all()))):
            yield LedgerFault(entry.number, "It is not what was entered.")


class Renumbering:
    """Replaces each id by the order of its first appearance."""

    def __init__(self) -> None:
        self.next = count()
        self.places: dict[str, int] = {}

    def without_ids(self, value: object) -> object:
        if isinstance(value, dict):
            # In the order of the names, which is the same in a record that was read again.
            return {name: self.without_ids(value[name]) for name in sorted(value)}
        if isinstance(value, list):
            return [self.without_ids(one) for one in value]
        if isinstance(value, str) and _is_id(value):
            if value not in self.places:
                self.places[value] = next(self.next)
            return self.places[value]
        return value


def _is_id(text: str) -> bool:
    try:
        return len(text) == 36 and bool(uuid.UUID(text))
    except ValueError:
        return False
