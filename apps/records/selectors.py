"""Reads of a boat's record. What a reader may not see is withheld: they get its digests alone."""

import json
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypedDict

from django.db.models import Q, QuerySet

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Valuation
from apps.boats.selectors import candidate_for
from apps.groups.changes import things_opened
from apps.records.models import ListRecord, RecordEntry
from apps.records.wording import OPINIONS, VOTE
from apps.surveys.models import SurveyVote
from apps.viewings.models import Submission


class EntryContent(TypedDict):
    """What the text of an entry holds; the ids are those of the service where it was made."""

    number: int
    at: str
    kind: str
    thing: str
    thing_id: str
    thing_version: int
    list: str
    candidate: str | None
    by: str | None
    words: str
    facts: dict[str, Any]
    salt: str


@dataclass(frozen=True)
class RecordReader:
    """Somebody who reads a record, with what decides on the opinions that they may see.

    things: the kinds of things that their token may read; None for all. valued, voted: boats on
    which they gave theirs. counted: by boat, when a vote on a survey was last closed.
    """

    person_id: uuid.UUID
    things: frozenset[str] | None
    opinions_open: bool
    valued: frozenset[uuid.UUID]
    voted: frozenset[uuid.UUID]
    ranked: bool
    counted: Mapping[uuid.UUID, datetime | None]

    def content_of(self, entry: RecordEntry) -> EntryContent | None:
        """What the entry says; None if it is withheld."""
        if not self.may_read(entry):
            return None
        content: EntryContent = json.loads(entry.text)
        return content

    def may_read(self, entry: RecordEntry) -> bool:
        if not entry.text or (self.things is not None and entry.thing not in self.things):
            return False
        if self.opinions_open or entry.by_id == self.person_id:
            return True
        if entry.kind == VOTE:
            return entry.candidate_id in self.voted
        if entry.thing == "survey_ballot":
            closed = entry.candidate_id and self.counted.get(entry.candidate_id)
            return bool(closed and entry.at <= closed)
        if entry.thing in OPINIONS:
            return self.ranked if entry.of_list else entry.candidate_id in self.valued
        return True


def reader_of(person: Person, candidate_list: CandidateList) -> RecordReader:
    """The rules are those of apps/boats/selectors and apps/viewings/selectors, and of
    apps/surveys/selectors for ballots on a survey. Four queries."""
    opened = things_opened(person.via)
    votes = Submission.objects.filter(
        viewing__candidate__list=candidate_list, author=person, state=Submission.State.SUBMITTED
    ).exclude(vote="")
    valuations = Valuation.objects.filter(candidate__list=candidate_list, person=person)
    closed = SurveyVote.objects.filter(candidate__list=candidate_list, closed_at__isnull=False)
    return RecordReader(
        person_id=person.pk,
        things=None if opened is None else frozenset(opened),
        opinions_open=candidate_list.opinions_open,
        valued=frozenset(valuations.values_list("candidate", flat=True)),
        voted=frozenset(votes.values_list("viewing__candidate", flat=True)),
        ranked=Ballot.objects.filter(list=candidate_list, person=person).exists(),
        counted={one.candidate_id: one.closed_at for one in closed.order_by("closed_at")},
    )


@dataclass(frozen=True)
class BoatRecord:
    """The record of one boat for one reader; `whole` is None before the first entry."""

    boat: Candidate
    whole: ListRecord | None
    reader: RecordReader

    @property
    def entries(self) -> QuerySet[RecordEntry]:
        """The entries about the boat, or about her whole list."""
        about = Q(candidate=self.boat) | Q(of_list=True)
        return RecordEntry.objects.filter(about, record=self.whole).select_related("by")


def boat_record(person: Person, candidate_id: uuid.UUID) -> BoatRecord:
    """Raises `Http404`."""
    boat = candidate_for(person, candidate_id)
    whole = ListRecord.objects.filter(list=boat.list_id).first()
    return BoatRecord(boat, whole, reader_of(person, boat.list))


def withheld_from(person: Person, group_id: uuid.UUID) -> set[uuid.UUID]:
    """The ids of entries in a group's records whose content the person may not see."""
    lists = CandidateList.objects.filter(group=group_id)
    readers = {one.pk: reader_of(person, one) for one in lists}
    entries: Iterable[RecordEntry] = RecordEntry.objects.filter(
        record__list__group=group_id
    ).select_related("record")
    return {one.pk for one in entries if not readers[one.record.list_id].may_read(one)}
