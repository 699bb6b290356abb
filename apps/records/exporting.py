"""A boat's record as a file that can be checked without this service."""

import csv
import io
import json
from typing import Any

from apps.appraisal.words.sentences import CAUTION
from apps.common.csv_cells import harmless
from apps.records.models import RecordEntry
from apps.records.selectors import BoatRecord, EntryContent

FORMAT = "hardstand record"
VERSION = 1
HOW_TO_CHECK = (
    "Begin with an empty text as the digest before, and take the entries in order of their number.",
    "Where an entry has a text, the SHA-256 of the text in UTF-8, in hex, is its text_digest.",
    "The SHA-256 of the digest before, a line feed and the text_digest, in hex, is its digest.",
    "This digest is the one before the next entry. The last one is the digest of the whole record.",
    "If you noted a digest earlier, an entry has it: then nothing up to that entry was changed, "
    "removed or inserted since.",
    "An entry without a text is about another boat of the list, or holds what you may not see.",
)


def record_document(record: BoatRecord) -> dict[str, Any]:
    """All entries of the list in order, with the texts about this boat that the reader may see.

    Names stand beside the texts, which have only ids.
    """
    documents, people = [], {}
    entries = RecordEntry.objects.filter(record=record.whole).select_related("by")
    for entry in entries.order_by("number"):
        about = entry.of_list or entry.candidate_id == record.boat.pk
        content = record.reader.content_of(entry) if about else None
        if content is not None and content["by"] is not None and entry.by is not None:
            people[content["by"]] = entry.by.name
        documents.append(
            {
                "number": entry.number,
                "text": entry.text if content is not None else None,
                "text_digest": entry.text_digest,
                "digest": entry.digest,
            }
        )
    return {
        "format": FORMAT,
        "version": VERSION,
        "boat": {"id": str(record.boat.pk), "name": record.boat.name},
        "list": {"id": str(record.boat.list_id), "name": record.boat.list.name},
        "caution": CAUTION,
        "how_to_check": list(HOW_TO_CHECK),
        "people": people,
        "entries_made": record.whole.entries_made if record.whole else 0,
        "digest": record.whole.digest if record.whole else "",
        "entries": documents,
    }


def _cells(entry: RecordEntry, content: EntryContent | None) -> list[object]:
    visible = content or {"words": "Withheld: you may not see it.", "facts": None}
    facts = visible["facts"]
    return [
        entry.number,
        entry.at.isoformat(),
        entry.kind if content else "",
        entry.by.name if content and entry.by else "",
        "list" if entry.of_list else "boat",
        visible["words"],
        "" if facts is None else json.dumps(facts, sort_keys=True, ensure_ascii=False),
        entry.text_digest,
        entry.digest,
    ]


COLUMNS = ("number", "at", "kind", "by", "about", "words", "facts", "text_digest", "digest")


def record_csv(record: BoatRecord) -> str:
    """The entries about the boat as a table (RFC 4180), oldest first."""
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(COLUMNS)
    for entry in record.entries.order_by("number"):
        cells = _cells(entry, record.reader.content_of(entry))
        table.writerow([harmless(cell) for cell in cells])
    return out.getvalue()
