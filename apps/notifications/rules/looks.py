"""Requests for second opinions, which wait for the people who are asked.

Those people do not belong to the asking group, so the notification has nothing of the boat or the
group, only the request. The request's own address shows what they may see.
"""

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef, Q

from apps.accounts.models import Person
from apps.groups.models import ClubMembership
from apps.notifications.rules.drafts import Draft, DraftPeriod
from apps.second_opinions.access import ADVISING
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step
from apps.viewings.models import Viewing

TYPES_OF_LOOKS = (
    "second_opinion_to_take",
    "second_opinion_on_the_way",
    "second_opinion_to_answer",
    "second_opinion_access_ended",
)
ENDED_BY_OTHERS = (Assignment.Ending.ENDED, Assignment.Ending.WITHDRAWN, Assignment.Ending.LAPSED)
ENDED_TOLD_FOR = timedelta(days=14)

Ids = set[uuid.UUID]
State = SecondOpinionRequest.State


@dataclass(frozen=True)
class Asked:
    """A request, without its question."""

    id: uuid.UUID
    candidate_id: uuid.UUID
    club_id: uuid.UUID | None
    day_id: uuid.UUID | None
    state: str
    offered_to_id: uuid.UUID | None
    wanted_by: date | None


@dataclass(frozen=True)
class Taken:
    id: uuid.UUID
    request_id: uuid.UUID
    person_id: uuid.UUID
    ended_at: datetime | None
    ending: str


@dataclass(frozen=True)
class LookConditions:
    """The requests of some lists: conditions, and the notifications to compare them with."""

    conditions: list[DraftPeriod]
    things: Ids


def looks_read(list_ids: Collection[uuid.UUID], outside: Collection[uuid.UUID]) -> LookConditions:
    """outside: the group's own people, who are not asked. Always six queries."""
    asked = [
        Asked(*row)
        for row in SecondOpinionRequest.objects.filter(candidate__list__in=list_ids).values_list(
            "pk", "candidate_id", "club_id", "yard_day_id", "state", "offered_to_id", "wanted_by"
        )
    ]
    if not asked:
        return LookConditions([], set())
    assignments = [
        Taken(*row)
        for row in Assignment.objects.filter(request__in=[one.id for one in asked]).values_list(
            "pk", "request_id", "person_id", "ended_at", "ending"
        )
    ]
    waiting = [one for one in asked if one.state == State.WAITING]
    conditions = [
        *_to_assignment([one for one in waiting if one.day_id is None], set(outside)),
        *_on_the_way([one for one in waiting if one.day_id is not None], set(outside)),
        *_taken(assignments, {one.id: one for one in asked}),
    ]
    return LookConditions(
        conditions, {one.id for one in asked} | {assignment.id for assignment in assignments}
    )


def lists_with_ended_looks(now: datetime) -> Exists:
    """Lists where an ended access is still notified, or was until just now."""
    ended = Assignment.objects.filter(
        request__candidate__list=OuterRef("pk"), ended_at__gt=now - ENDED_TOLD_FOR - timedelta(2)
    )
    return Exists(ended)


def _to_assignment(waiting: list[Asked], outside: Ids) -> Iterator[DraftPeriod]:
    """Conditions for the adviser whom the secretary asked, or for all who never had that boat."""
    advisers: dict[uuid.UUID, Ids] = defaultdict(set)
    for club, person in ClubMembership.objects.filter(
        club__in={one.club_id for one in waiting},
        role__in=ADVISING,
        ended_at=None,
        person__kind=Person.Kind.PERSON,
        person__is_active=True,
    ).values_list("club_id", "person_id"):
        advisers[club].add(person)
    had = set(
        Step.objects.filter(
            request__candidate__in={one.candidate_id for one in waiting},
            request__yard_day=None,
            kind__in=(Step.Kind.TAKEN, Step.Kind.DECLINED),
        ).values_list("request__candidate_id", "by_id")
    )
    for one in waiting:
        if one.club_id is None:
            continue
        able = advisers[one.club_id] - outside
        offered = one.offered_to_id is not None
        able = (
            able & {one.offered_to_id}
            if offered
            else {person for person in able if (one.candidate_id, person) not in had}
        )
        for person in able:
            yield DraftPeriod(
                Draft(
                    person_id=person,
                    type="second_opinion_to_take",
                    thing_id=one.id,
                    cause="offered" if offered else "waiting",
                    facts={"wanted_by": _day(one.wanted_by), "offered": offered},
                    club_id=one.club_id,
                )
            )


def _on_the_way(waiting: list[Asked], outside: Ids) -> Iterator[DraftPeriod]:
    """Conditions for the people who go to the yard that day, in their own group."""
    goes = _who_goes({one.day_id for one in waiting if one.day_id})
    for one in waiting:
        for person, group in goes[one.day_id]:
            if person not in outside:
                yield DraftPeriod(
                    Draft(
                        person_id=person,
                        type="second_opinion_on_the_way",
                        thing_id=one.id,
                        cause="asked",
                        facts={"wanted_by": _day(one.wanted_by)},
                        group_id=group,
                    )
                )


def _who_goes(days: Ids) -> dict[uuid.UUID | None, list[tuple[uuid.UUID, uuid.UUID]]]:
    """By yard day: the people who go, and the group they go for. Two queries."""
    found: dict[uuid.UUID | None, list[tuple[uuid.UUID, uuid.UUID]]] = defaultdict(list)
    if not days:
        return found
    visits = (
        Viewing.objects.filter(yard_day__in=days)
        .exclude(state=Viewing.State.CALLED_OFF)
        .select_related("candidate__list", "yard_day")
        .prefetch_related("people")
    )
    for visit in visits:
        people = [person.pk for person in visit.people.all()] or [visit.added_by_id]
        group = visit.candidate.list.group_id
        found[visit.yard_day.pk] += [(person, group) for person in people]
    return found


def _taken(assignments: Iterable[Taken], asked: dict[uuid.UUID, Asked]) -> Iterator[DraftPeriod]:
    """Conditions for assignees: to answer, or that others ended their access."""
    assignments = list(assignments)
    groups = _who_goes(
        {day for assignment in assignments if (day := asked[assignment.request_id].day_id)}
    )
    for assignment in assignments:
        request = asked[assignment.request_id]
        group = dict(groups[request.day_id]).get(assignment.person_id) if request.day_id else None
        club = None if request.day_id else request.club_id
        if group is None and club is None:
            continue
        if assignment.ended_at is None:
            yield DraftPeriod(
                Draft(
                    person_id=assignment.person_id,
                    type="second_opinion_to_answer",
                    thing_id=assignment.id,
                    cause="taken",
                    facts={"wanted_by": _day(request.wanted_by)},
                    group_id=group,
                    club_id=club,
                )
            )
        elif assignment.ending in ENDED_BY_OTHERS:
            yield DraftPeriod(
                Draft(
                    person_id=assignment.person_id,
                    type="second_opinion_access_ended",
                    thing_id=assignment.id,
                    cause="ended",
                    facts={"ending": assignment.ending},
                    group_id=group,
                    club_id=club,
                ),
                since=assignment.ended_at,
                until=assignment.ended_at + ENDED_TOLD_FOR,
            )


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def scope(things: Ids) -> Q:
    """The notifications to compare these conditions with, of any person."""
    return Q(type__in=TYPES_OF_LOOKS, thing_id__in=things)
