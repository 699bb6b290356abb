"""Check and store the parties of a trip."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import time
from typing import Any

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.common.errors import FieldFault
from apps.groups.models import ClubMembership
from apps.groups.selectors import live_members
from apps.planning.models import Trip, TripParty


@dataclass(frozen=True)
class PartyInput:
    """A car and its people. `id`: of an existing party."""

    facts: Mapping[str, Any]
    people: Sequence[uuid.UUID] = ()
    id: uuid.UUID | None = None


def with_somebody(parties: Sequence[PartyInput], by: Person) -> Sequence[PartyInput]:
    """A party without people can look at no boat, so put `by` in the first; a program has none."""
    if by.kind != Person.Kind.PERSON or any(given.people for given in parties):
        return parties
    first, *others = parties
    return [replace(first, people=[by.pk]), *others]


def party_store(party: TripParty, given: PartyInput) -> None:
    for name, value in given.facts.items():
        setattr(party, name, value)
    party.save()
    party.people.set(given.people)  # type: ignore[arg-type]  # ids will do


def party_faults(
    trip: Trip, parties: Sequence[PartyInput], own: Mapping[uuid.UUID, TripParty]
) -> list[FieldFault]:
    faults = []
    members = members_among(trip, {person for given in parties for person in given.people})
    seen: set[uuid.UUID] = set()
    for n, given in enumerate(parties):
        at = f"/parties/{n}"
        if given.id is not None and (given.id not in own or given.id in seen):
            faults.append(FieldFault(f"{at}/id", "unknown_party", "The trip has no such party."))
        if _clock(given, "leaves_at") >= _clock(given, "back_by"):
            detail = "The return must be after the departure, on the same day."
            faults.append(FieldFault(f"{at}/back_by", "ends_before_it_starts", detail))
        seen |= {given.id} if given.id else set()
        for m, person in enumerate(given.people):
            if person not in members:
                detail = f"{person} does not belong to the group or club."
                faults.append(FieldFault(f"{at}/people/{m}", "not_a_member", detail))
            elif person in seen:
                detail = "A person can be in one party only, and only once."
                faults.append(FieldFault(f"{at}/people/{m}", "named_twice", detail))
            seen.add(person)
    return faults


def _clock(given: PartyInput, name: str) -> time:
    found: time = given.facts[name]
    return found


def members_among(trip: Trip, people: Iterable[uuid.UUID]) -> set[uuid.UUID]:
    if trip.group_id is not None:
        live: QuerySet[Any] = live_members(trip.group_id)
    else:
        live = ClubMembership.objects.filter(club=trip.club_id, ended_at=None)
    return set(live.filter(person__in=people).values_list("person_id", flat=True))
