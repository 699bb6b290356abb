"""What the digest of an entry covers, and checks that a ledger was only ever added to."""

import json
import uuid
from collections.abc import Iterator, Sequence
from decimal import Decimal

from apps.common.hash_chain import ChainFault, Link, Renaming, chain_faults
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


def ledger_faults(ledger: Ledger) -> list[ChainFault]:
    """Every fault of the ledger: gaps, digests that do not follow, changed entries. Two queries."""
    entries = list(
        ledger.entries.select_related("reverses").prefetch_related("parts").order_by("number")
    )
    links = [Link(entry.number, entry.record, entry.digest) for entry in entries]
    chain = chain_faults(links, made=ledger.entries_made, digest=ledger.digest)
    return [*chain, *_changed(entries)]


def _changed(entries: list[LedgerEntry]) -> Iterator[ChainFault]:
    """Entries that are not what was entered. An import gives new ids to people and boats."""
    renaming = Renaming()
    for entry in entries:
        if not renaming.same(json.loads(entry.record), entry_facts(entry, list(entry.parts.all()))):
            yield ChainFault(entry.number, "It is not what was entered.")
