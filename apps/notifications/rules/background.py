"""Looks up what some events' notifications need: only on demand, and once for all events."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from apps.boats.models import PriceRecord
from apps.events.models import Event
from apps.groups.selectors import secretaries_of
from apps.notifications.rules.state import MemberState
from apps.planning.models import Trip, TripParty
from apps.second_opinions.models import SecondOpinionRequest
from apps.viewings.models import LIVE, Clearance, Finding, FollowUp, Submission, Viewing

Ids = Iterable[uuid.UUID]


@dataclass
class Background:
    """Each part is read at its first use, for all events at once."""

    events: Sequence[Event]
    members: Mapping[uuid.UUID, MemberState]

    def ids(self, *kinds: str) -> list[uuid.UUID]:
        return [event.thing_id for event in self.events if event.kind in kinds]

    @cached_property
    def prices(self) -> dict[uuid.UUID, list[PriceRecord]]:
        """Prices by candidate, in the order in which they were added."""
        found = defaultdict(list)
        for one in PriceRecord.objects.filter(
            candidate__in=self.ids("candidate.price_noted")
        ).order_by("pk"):
            found[one.candidate_id].append(one)
        return found

    @cached_property
    def viewings(self) -> dict[uuid.UUID, Viewing]:
        return Viewing.objects.prefetch_related("people").in_bulk(self.ids("viewing.changed"))

    @cached_property
    def questions(self) -> dict[uuid.UUID, FollowUp]:
        return FollowUp.objects.in_bulk(self.ids("follow_up.changed"))

    @cached_property
    def looks(self) -> dict[uuid.UUID, uuid.UUID]:
        """The person who asked, by request."""
        ids = [event.thing_id for event in self.events if event.thing == "second_opinion_request"]
        return dict(
            SecondOpinionRequest.objects.filter(pk__in=ids).values_list("pk", "asked_by_id")
        )

    @cached_property
    def secretaries(self) -> dict[str, set[uuid.UUID]]:
        """The secretaries of the clubs that the group left."""
        clubs = [e.facts["club"] for e in self.events if e.kind == "group.left_club"]
        found: dict[str, set[uuid.UUID]] = defaultdict(set)
        for club, person in secretaries_of(clubs).values_list("club_id", "person_id"):
            found[str(club)].add(person)
        return found

    @cached_property
    def travellers(self) -> dict[uuid.UUID, set[uuid.UUID]]:
        """The people on each trip, and its creator."""
        ids = [event.thing_id for event in self.events if event.thing == "trip"]
        found = {
            pk: {made_by}
            for pk, made_by in Trip.objects.filter(pk__in=ids).values_list("pk", "made_by")
        }
        for trip, person in TripParty.people.through.objects.filter(
            tripparty__trip__in=ids
        ).values_list("tripparty__trip_id", "person_id"):
            found.setdefault(trip, set()).add(person)
        return found

    @cached_property
    def clearances(self) -> dict[uuid.UUID, Clearance]:
        return Clearance.objects.in_bulk(self.ids("clearance.added"))

    @cached_property
    def professional(self) -> dict[uuid.UUID, dict[str, int]]:
        """The levels that professionals found, by submission and checkpoint."""
        found: dict[uuid.UUID, dict[str, int]] = defaultdict(dict)
        for submission, checkpoint, level in Finding.objects.filter(
            submission__in=self.ids("submission.submitted"),
            submission__capacity=Submission.Capacity.PROFESSIONAL,
            kind=Finding.Kind.LOOKED,
        ).values_list("submission_id", "checkpoint_id", "level"):
            found[submission][checkpoint] = level or 0  # there is one
        return found

    @cached_property
    def looked(self) -> dict[uuid.UUID, list[tuple[uuid.UUID, str, int]]]:
        """By candidate: person, checkpoint and level of each person's own look that counts."""
        boats = {
            event.facts["candidate"]
            for event in self.events
            if event.kind.startswith("submission.") and "candidate" in event.facts
        }
        live = Submission.objects.filter(
            LIVE, viewing__candidate__in=boats, capacity=Submission.Capacity.MEMBER
        )
        found = defaultdict(list)
        for boat, author, checkpoint, level in Finding.objects.filter(
            submission__in=live, kind=Finding.Kind.LOOKED
        ).values_list(
            "submission__viewing__candidate_id", "submission__author_id", "checkpoint_id", "level"
        ):
            found[boat].append((author, checkpoint, level or 0))  # there is one
        return found
