"""Reads, scoped to the reader.

All members of a group see its trips. Only its owner and the people in its parties see a club
member's trip, and each sees only those of its boats that they may look at. People in a car see when
it stops at other boats; nobody else does, because two legs would reveal where a boat lies.
"""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import F, Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.common.processes.waiting import wait_until_fresh
from apps.groups.rules import club_membership_of, membership_of, visible_clubs, visible_groups
from apps.planning.access import open_among
from apps.planning.models import Trip, TripBoat, TripParty, TripStop


def trips_visible(person: Person) -> QuerySet[Trip]:
    own = Q(made_by=person) | Q(pk__in=TripParty.objects.filter(people=person).values("trip"))
    return trips_whole().filter(
        Q(group__in=visible_groups(person)) | Q(own, club__in=visible_clubs(person))
    )


def trips_whole() -> QuerySet[Trip]:
    """Trips with their parties and boats."""
    boats = TripBoat.objects.select_related(
        "candidate__list", "candidate__at_yard", "stop__viewing", "stop__party"
    ).order_by("pk")
    parties = TripParty.objects.prefetch_related("people").order_by("pk")
    return Trip.objects.select_related("group", "club", "made_by").prefetch_related(
        Prefetch("parties", parties), Prefetch("boats", boats)
    )


def trip_for(person: Person, trip_id: uuid.UUID) -> Trip:
    """One trip with its parties and boats. Four queries."""
    return get_object_or_404(trips_visible(person), pk=trip_id)


def trip_alone_for(person: Person, trip_id: uuid.UUID) -> Trip:
    """One trip without parties and boats. One query."""
    return get_object_or_404(trips_visible(person).prefetch_related(None), pk=trip_id)


def trips_of_group(person: Person, group_id: uuid.UUID) -> QuerySet[Trip]:
    membership_of(person, group_id)
    return trips_visible(person).filter(group_id=group_id).prefetch_related(None)


def trips_of_club(person: Person, club_id: uuid.UUID) -> QuerySet[Trip]:
    """Trips of the club's members that the reader made or takes part in."""
    club_membership_of(person, club_id)
    return trips_visible(person).filter(club_id=club_id).prefetch_related(None)


# --- The plan as one reader sees it --------------------------------------------------------------


@dataclass(frozen=True)
class StopSeen:
    """A stop as one reader sees it.

    `boat` None: the reader may not see which. `metres` and `drive_minutes`: from the stop before;
    None: the reader does not see that one.
    """

    stop: TripStop
    boat: TripBoat | None
    metres: int | None
    drive_minutes: int | None


@dataclass(frozen=True)
class PartyDay:
    """A party with its stops in order; without stops it stays at home.

    `metres`: of the whole route; None: the reader does not see all of its stops.
    """

    party: TripParty
    stops: tuple[StopSeen, ...]
    metres: int | None


@dataclass(frozen=True)
class TripSeen:
    """A trip as one reader sees it. `hidden`: how many of its boats the reader may not see."""

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
    """Trips whose plan is out of date."""
    return Trip.objects.filter(
        asked=True, state=Trip.State.PLANNED, planned_revision__lt=F("revision")
    )


def trips_seen(person: Person, trips: Iterable[Trip]) -> list[TripSeen]:
    """These trips as the reader sees them, with their boats. One query more."""
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
    """The trip as it is now, with parties and boats, locked until the transaction ends.

    A plan may have been stored since the trip was read.
    """
    locked = trips_whole().select_for_update(of=("self",), no_key=True)
    return locked.get(pk=trip.pk)


def stop_of(boat: TripBoat) -> TripStop | None:
    """The boat's stop in the present plan."""
    stop = getattr(boat, "stop", None)
    return None if stop is None or stop.dropped else stop
