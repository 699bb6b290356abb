"""Reads, scoped to the reader.

A group's trip is its members'. A trip of a club's member is for whoever made it and whoever goes,
and of its boats each of them sees only those they may look at. Where a car stops at another boat
they see when, if they go in that car; else nothing, for two legs would tell where she lies.
"""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import F, Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.common.waiting import wait_until_fresh
from apps.groups.rules import club_membership_of, membership_of, visible_clubs, visible_groups
from apps.planning.access import open_among
from apps.planning.models import Trip, TripBoat, TripParty, TripStop


def trips_visible(person: Person) -> QuerySet[Trip]:
    own = Q(made_by=person) | Q(pk__in=TripParty.objects.filter(people=person).values("trip"))
    return trips_whole().filter(
        Q(group__in=visible_groups(person)) | Q(own, club__in=visible_clubs(person))
    )


def trips_whole() -> QuerySet[Trip]:
    """With parties and boats at hand."""
    boats = TripBoat.objects.select_related(
        "candidate__list", "candidate__at_yard", "stop__viewing", "stop__party"
    ).order_by("pk")
    parties = TripParty.objects.prefetch_related("people").order_by("pk")
    return Trip.objects.select_related("group", "club", "made_by").prefetch_related(
        Prefetch("parties", parties), Prefetch("boats", boats)
    )


def trip_for(person: Person, trip_id: uuid.UUID) -> Trip:
    """One trip with its parties and boats at hand. Four queries."""
    return get_object_or_404(trips_visible(person), pk=trip_id)


def trip_alone_for(person: Person, trip_id: uuid.UUID) -> Trip:
    """The same without parties and boats. One query."""
    return get_object_or_404(trips_visible(person).prefetch_related(None), pk=trip_id)


def trips_of_group(person: Person, group_id: uuid.UUID) -> QuerySet[Trip]:
    membership_of(person, group_id)
    return trips_visible(person).filter(group_id=group_id).prefetch_related(None)


def trips_of_club(person: Person, club_id: uuid.UUID) -> QuerySet[Trip]:
    """Of the trips of the club's members those that the reader made or goes on."""
    club_membership_of(person, club_id)
    return trips_visible(person).filter(club_id=club_id).prefetch_related(None)


# --- The plan as one reader sees it --------------------------------------------------------------


@dataclass(frozen=True)
class StopSeen:
    """`boat` None: the reader may not see which. `metres` and `drive_minutes` lead there from the
    stop before; None: that one is not shown."""

    stop: TripStop
    boat: TripBoat | None
    metres: int | None
    drive_minutes: int | None


@dataclass(frozen=True)
class PartyDay:
    """A party with its stops in order; without any it stays at home. `metres` of its whole way;
    None: not all of its stops are shown."""

    party: TripParty
    stops: tuple[StopSeen, ...]
    metres: int | None


@dataclass(frozen=True)
class TripSeen:
    """`hidden`: how many of the trip's boats the reader may not see."""

    trip: Trip
    days: tuple[PartyDay, ...]
    boats: tuple[TripBoat, ...]
    hidden: int

    @property
    def left_out(self) -> tuple[TripBoat, ...]:
        return tuple(boat for boat in self.boats if boat.left_out)


def trip_seen(person: Person, trip_id: uuid.UUID, *, wait: float = 0) -> TripSeen:
    """The trip and its plan as the reader sees them. Five queries, and those of the wait."""
    trip = trip_for(person, trip_id)
    if wait and trip.stale:
        wait_until_fresh(trip_id, wait, trips_behind)
        trip = trip_for(person, trip_id)
    return trips_seen(person, [trip])[0]


def trips_behind() -> QuerySet[Trip]:
    """Trips whose plan may be another one now."""
    return Trip.objects.filter(
        asked=True, state=Trip.State.PLANNED, planned_revision__lt=F("revision")
    )


def trips_seen(person: Person, trips: Iterable[Trip]) -> list[TripSeen]:
    """The same for trips that the reader sees, with their boats at hand. One query more."""
    trips = list(trips)
    named = {boat.candidate_id for trip in trips for boat in trip.boats.all()}
    seen = open_among(person, named)
    return [_seen(person, trip, seen) for trip in trips]


def _seen(person: Person, trip: Trip, seen: frozenset[uuid.UUID]) -> TripSeen:
    boats = [boat for boat in trip.boats.all() if boat.candidate_id in seen]
    stops: dict[uuid.UUID, list[tuple[TripStop, TripBoat | None]]] = {}
    for boat in trip.boats.all():
        stop = stop_of(boat)
        if stop is not None and stop.party_id is not None:
            one = stop, boat if boat.candidate_id in seen else None
            stops.setdefault(stop.party_id, []).append(one)
    return TripSeen(
        trip=trip,
        days=tuple(
            _day(person, party, sorted(stops.get(party.pk, ()), key=lambda one: one[0].position))
            for party in trip.parties.all()
        ),
        boats=tuple(boats),
        hidden=len(trip.boats.all()) - len(boats),
    )


def _day(
    person: Person, party: TripParty, stops: list[tuple[TripStop, TripBoat | None]]
) -> PartyDay:
    goes_along = person in party.people.all()
    visible: list[StopSeen] = []
    way_known = whole_way_known = True
    for stop, boat in stops:
        if boat is None and not goes_along:
            way_known = whole_way_known = False
            continue
        way = (stop.metres, stop.drive_minutes) if way_known else (None, None)
        visible.append(StopSeen(stop, boat, *way))
        way_known = True
    return PartyDay(party, tuple(visible), party.metres if whole_way_known else None)


def trip_locked(trip: Trip) -> Trip:
    """The trip as it is now, with parties and boats, and nobody else's until the transaction ends.

    A plan may have come, or have been touched, since whoever changes the trip read it.
    """
    locked = trips_whole().select_for_update(of=("self",), no_key=True)
    return locked.get(pk=trip.pk)


def stop_of(boat: TripBoat) -> TripStop | None:
    """The boat's stop in the plan as it is."""
    stop = getattr(boat, "stop", None)
    return None if stop is None or stop.dropped else stop
