"""Enters an event in the record of its list, chained to the entry before.

Called as the event is written, while the sequence of its group is locked (apps/events). So entries
are in the order of events, and two writers cannot both follow the same entry.
"""

import secrets
import uuid
from dataclasses import dataclass

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.common.hash_chain import chained, record_text, text_digest
from apps.common.plain_values import plain
from apps.events.models import Event
from apps.records.models import ListRecord, RecordEntry
from apps.records.wording import LEFT_OUT, OPINIONS, NewEntry, new_entries

SALT_BYTES = 16


@dataclass(frozen=True)
class About:
    """What an event is about; candidate None: the list as a whole, or a boat that is gone."""

    list_id: uuid.UUID
    candidate_id: uuid.UUID | None
    of_list: bool


def event_enter(event: Event) -> None:
    """Enter it, if it is about a list or a boat and concerns more people than one."""
    if event.kind in LEFT_OUT or (event.only_for is not None and event.thing not in OPINIONS):
        return
    about = about_of(event)
    if about is None or (record := _record_of(about.list_id)) is None:
        return
    entries = [
        _entry(record, number, event, about, new)
        for number, new in enumerate(new_entries(event), record.entries_made + 1)
    ]
    for entry in entries:
        entry.digest = chained(record.digest, entry.text_digest)
        record.digest, record.entries_made = entry.digest, entry.number
    RecordEntry.objects.bulk_create(entries)
    record.save(update_fields=["digest", "entries_made"])


def about_of(event: Event) -> About | None:
    """What the event is about, by its thing or its facts; None if about no list."""
    candidate = _id(event.thing_id if event.thing == "candidate" else event.facts.get("candidate"))
    list_id = _id(event.thing_id if event.thing == "list" else event.facts.get("list"))
    if candidate is None:
        return None if list_id is None else About(list_id, None, of_list=True)
    if list_id is None or event.deleted:
        there = Candidate.objects.filter(pk=candidate).values_list("list_id", flat=True).first()
        list_id, candidate = there or list_id, candidate if there else None
    return None if list_id is None else About(list_id, candidate, of_list=False)


def _id(value: object) -> uuid.UUID | None:
    return value if value is None or isinstance(value, uuid.UUID) else uuid.UUID(str(value))


def _record_of(list_id: uuid.UUID) -> ListRecord | None:
    """The list's record, locked; a new one for its first entry. None if the list is gone."""
    record = ListRecord.objects.select_for_update().filter(list=list_id).first()
    if record is None and CandidateList.objects.filter(pk=list_id).exists():
        record = ListRecord.objects.create(list_id=list_id)
    return record


def _entry(
    record: ListRecord, number: int, event: Event, about: About, new: NewEntry
) -> RecordEntry:
    content = {
        "number": number,
        "at": plain(event.created_at),
        "kind": new.kind,
        "thing": event.thing,
        "thing_id": str(event.thing_id),
        "thing_version": event.thing_version,
        "list": str(about.list_id),
        "candidate": about.candidate_id and str(about.candidate_id),
        "by": event.by_id and str(event.by_id),
        "words": new.words,
        "facts": new.facts,
        # Nobody can find out the content of an entry by trying what its digest may be of.
        "salt": secrets.token_hex(SALT_BYTES),
    }
    text = record_text(content)
    return RecordEntry(
        record=record,
        number=number,
        at=event.created_at,
        kind=new.kind,
        thing=event.thing,
        of_list=about.of_list,
        candidate_id=about.candidate_id,
        by_id=event.by_id,
        text=text,
        text_digest=text_digest(text),
    )
