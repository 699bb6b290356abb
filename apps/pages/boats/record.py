"""Everything that happened to a boat, the newest first, and whether the record holds together."""

import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.common.hash_chain import first_break
from apps.groups.models import Membership
from apps.pages.base import PageView
from apps.records.models import RecordEntry
from apps.records.selectors import BoatRecord, EntryContent, boat_record
from apps.records.wording import CODE
from apps.reports.words import capital

SHOWN = 100
ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@dataclass(frozen=True)
class ShownEntry:
    entry: RecordEntry
    content: EntryContent | None
    words: str
    facts: dict[str, str]


class RecordPageView(PageView):
    """`?before=NUMBER` shows older entries."""

    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        record = boat_record(self.person, candidate_id)
        before = request.GET.get("before", "")
        entries = record.entries.order_by("-number")
        if before.isdecimal() and len(before) < 10:
            entries = entries.filter(number__lt=int(before))
        found = list(entries[: SHOWN + 1])
        names, works = _names(record), _works(record)
        shown = [_shown(one, record.reader.content_of(one), names, works) for one in found[:SHOWN]]
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


def _names(record: BoatRecord) -> dict[str, str]:
    """The names of the list's boats and of the group's people, by id. Two queries."""
    boats = Candidate.objects.filter(list=record.boat.list_id).values_list("pk", "name")
    members = Membership.objects.filter(group=record.boat.list.group_id)
    people = members.values_list("person_id", "person__name")
    return {str(id): name for id, name in (*boats, *people)}


def _works(record: BoatRecord) -> dict[str, str]:
    """The titles of the catalogue's remedies, by code."""
    catalogue = catalogue_snapshot(record.boat.list.group_id).catalogue
    return {code: one.title for code, one in catalogue.remedies.items()}


def _shown(
    entry: RecordEntry,
    content: EntryContent | None,
    names: Mapping[str, str],
    works: Mapping[str, str],
) -> ShownEntry:
    """An entry has a remedy by its code, for its text never changes: it is shown by its title."""
    facts, words = ({}, "") if content is None else (dict(content["facts"]), content["words"])
    code = facts.get("remedy")
    if isinstance(code, str) and code in works:
        facts["remedy"] = works[code]
        words = words.replace(code, f"“{works[code]}”", 1)
    texts = ((capital(name.replace("_", " ")), _fact_text(facts[name], names)) for name in facts)
    return ShownEntry(entry, content, words, {name: value for name, value in texts if value})


def _fact_text(value: object, names: Mapping[str, str]) -> str:
    """A fact in words; empty for what is not known, and for an id that stands for nothing here."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case list():
            return ", ".join(text for one in value if (text := _fact_text(one, names)))
        case dict():
            pairs = ((name, _fact_text(one, names)) for name, one in value.items())
            return ", ".join(f"{name.replace('_', ' ')}: {text}" for name, text in pairs if text)
    text = str(value)
    if ID.fullmatch(text):
        return names.get(text, "")
    return text.replace("_", " ") if CODE.fullmatch(text) else text
