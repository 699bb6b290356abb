"""Everything that happened to a boat, the newest first, and whether the record holds together."""

import uuid
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from apps.common.hash_chain import first_break
from apps.pages.base import PageView
from apps.records.models import RecordEntry
from apps.records.selectors import BoatRecord, EntryContent, boat_record

SHOWN = 100


@dataclass(frozen=True)
class ShownEntry:
    entry: RecordEntry
    content: EntryContent | None


class RecordPageView(PageView):
    """`?before=NUMBER` shows older entries."""

    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        record = boat_record(self.person, candidate_id)
        before = request.GET.get("before", "")
        entries = record.entries.order_by("-number")
        if before.isdecimal() and len(before) < 10:
            entries = entries.filter(number__lt=int(before))
        found = list(entries[: SHOWN + 1])
        shown = [ShownEntry(one, record.reader.content_of(one)) for one in found[:SHOWN]]
        return self.page(
            "pages/record.html",
            boat=record.boat,
            whole=record.whole,
            entries=shown,
            older_than=found[SHOWN - 1].number if len(found) > SHOWN else None,
            first_page=not before,
            broken_at=_broken_at(record),
        )


def _broken_at(record: BoatRecord) -> int | None:
    """The number of the first entry that does not follow the one before, in the whole list."""
    if record.whole is None:
        return None
    links = RecordEntry.objects.filter(record=record.whole).order_by("number")
    place = first_break(links.values_list("text_digest", "digest"))
    return None if place is None else place + 1
