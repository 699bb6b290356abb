"""Gather the planning problem of a trip's day from the database."""

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from apps.boats.models import Candidate
from apps.boats.vocabulary import SETTLED
from apps.boats.yards.hours import open_spans
from apps.planning.access import openers
from apps.planning.looks import TripLookValue, look_kept, looks_of
from apps.planning.models import Trip, TripBoat, TripParty, TripStop
from apps.planning.solver.distances import Roads
from apps.planning.solver.problem import BoatToVisit, Party, Problem, Site, Span
from apps.second_opinions.places import Place
from apps.viewings.models import Viewing

A_DAY = 1440


@dataclass(frozen=True)
class Gathered:
    """The problem, with what its numbers refer to. `kept`: made or begun stops, which stay."""

    trip: Trip
    zero: datetime
    problem: Problem
    parties: tuple[TripParty, ...]
    boats: tuple[TripBoat, ...]
    looks: Mapping[uuid.UUID, TripLookValue]
    kept: Mapping[uuid.UUID, tuple[TripStop, ...]]
    left_out: Mapping[uuid.UUID, str]

    def at(self, minute: int) -> datetime:
        return self.zero + timedelta(minutes=minute)

    @property
    def digest(self) -> str:
        """A digest of the problem; equal digests mean equal plans."""
        given = (
            self.problem,
            [party.pk for party in self.parties],
            [boat.pk for boat in self.boats],
            sorted(self.left_out.items()),
            sorted((party, [stop.pk for stop in stops]) for party, stops in self.kept.items()),
        )
        return hashlib.sha256(repr(given).encode()).hexdigest()


def gather(trip: Trip, now: datetime) -> Gathered:
    """From a trip with its parties and boats loaded. Three queries more at any size."""
    parties, boats = tuple(trip.parties.all()), list(trip.boats.all())
    day = _Day(trip, now)
    kept = kept_stops(boats, parties, now)
    gone = {stop.pk for stops in kept.values() for stop in stops}
    looks = _looks(trip, boats)
    left_out = {
        boat.pk: why
        for boat in boats
        if boat.pk not in gone and (why := why_not(boat, looks[boat.pk], day))
    }
    asked = [boat for boat in boats if boat.pk not in gone and boat.pk not in left_out]
    sites = _Sites()
    may = _who_may(trip, parties, asked)
    numbered = [_boat(day, sites, parties, boat, looks[boat.pk], may[boat.pk]) for boat in asked]
    origins = tuple(_origin(sites, kept[party.pk]) for party in parties)
    metres, minutes = _matrix(trip, [*(party.place for party in parties), *sites.places])
    problem = Problem(
        parties=tuple(_party(day, party, kept[party.pk]) for party in parties),
        sites=tuple(Site(day.spans_of(candidate)) for candidate in sites.first),
        boats=tuple(numbered),
        metres=metres,
        minutes=minutes,
        origins=origins,
    )
    return Gathered(trip, day.zero, problem, parties, tuple(asked), looks, kept, left_out)


class _Day:
    """Converts times to whole minutes from the midnight that begins the trip's day."""

    def __init__(self, trip: Trip, now: datetime) -> None:
        self.day, self.zone = trip.day, ZoneInfo(trip.time_zone)
        self.zero = datetime.combine(trip.day, time(), self.zone).astimezone(UTC)
        self.now = self.minute(now) if now.astimezone(self.zone).date() == trip.day else None

    def minute(self, at: datetime) -> int:
        return (at - self.zero) // timedelta(minutes=1)

    def local(self, clock: time) -> int:
        return self.minute(datetime.combine(self.day, clock, self.zone).astimezone(UTC))

    def spans_of(self, candidate: Candidate) -> tuple[Span, ...]:
        """When people can get to her; all day if no hours are known."""
        yard, found = candidate.at_yard, None
        if yard is not None:
            found = open_spans(yard.opening_hours, yard.closed_on, yard.time_zone, self.day)
        if found is None:
            return ((0, A_DAY),)
        return tuple((self.minute(opens), self.minute(closes)) for opens, closes in found)


class _Sites:
    """Places with boats, numbered in order of appearance. Boats of one yard share a place."""

    def __init__(self) -> None:
        self.numbers: dict[object, int] = {}
        self.places: list[Place] = []
        self.first: list[Candidate] = []

    def number(self, candidate: Candidate) -> int:
        place = place_of(candidate)
        assert place is not None
        key = candidate.at_yard_id or place
        if key not in self.numbers:
            self.numbers[key] = len(self.places)
            self.places.append(place)
            self.first.append(candidate)
        return self.numbers[key]


def place_of(candidate: Candidate) -> Place | None:
    """The place to drive to: the yard if she lies at one, else her own place."""
    return candidate.at_yard.place if candidate.at_yard else candidate.position


# --- Boats ---------------------------------------------------------------------------------------


def _looks(trip: Trip, boats: Sequence[TripBoat]) -> dict[uuid.UUID, TripLookValue]:
    """As stored with the trip, unless new values are wanted: a finding does not change the plan."""
    before = {boat.pk: None if trip.values_anew else look_kept(boat) for boat in boats}
    anew = looks_of(trip, [boat for boat in boats if before[boat.pk] is None])
    return {pk: look or anew[pk] for pk, look in before.items()}


def why_not(boat: TripBoat, look: TripLookValue, day: _Day) -> str:
    """Why she is left out before solving; empty if she is not."""
    viewing = viewing_of(boat)
    if not boat.wanted:
        return "taken_off"
    if boat.candidate.stage in SETTLED:
        return "not_looked_at_now"
    if viewing is not None and viewing.state == Viewing.State.CALLED_OFF:
        return "called_off"
    if viewing is not None and viewing.starts_at.astimezone(day.zone).date() != day.day:
        return "another_day"
    if place_of(boat.candidate) is None:
        return "no_place"
    return "" if viewing is not None else look.why


def viewing_of(boat: TripBoat) -> Viewing | None:
    """The visit that was agreed for her on this trip, even if later plans dropped her."""
    stop = getattr(boat, "stop", None)
    return None if stop is None else stop.viewing


def _boat(
    day: _Day,
    sites: _Sites,
    parties: Sequence[TripParty],
    boat: TripBoat,
    look: TripLookValue,
    by: frozenset[int],
) -> BoatToVisit:
    viewing, fixed = viewing_of(boat), None
    if viewing is not None:
        own = boat.stop.party_id
        assert own is not None  # a stop without a party has no visit
        party = [one.pk for one in parties].index(own)
        fixed = (party, day.minute(viewing.starts_at))
        by |= {party}
    return BoatToVisit(
        site=sites.number(boat.candidate),
        value=int((look.value or 0) * 100),
        minutes=look.minutes,
        by=by,
        fixed=fixed,
    )


def _who_may(
    trip: Trip, parties: Sequence[TripParty], boats: Sequence[TripBoat]
) -> dict[uuid.UUID, frozenset[int]]:
    """The parties in which somebody may look at the boat; on a group's trip, all."""
    if trip.group_id is not None:
        everybody = frozenset(range(len(parties)))
        return {boat.pk: everybody for boat in boats}
    people = {person for party in parties for person in party.people.all()}
    open_to = openers(people, [boat.candidate for boat in boats])
    return {
        boat.pk: frozenset(
            number
            for number, party in enumerate(parties)
            if any(person.pk in open_to[boat.candidate_id] for person in party.people.all())
        )
        for boat in boats
    }


# --- Parties -------------------------------------------------------------------------------------


def kept_stops(
    boats: Sequence[TripBoat], parties: Sequence[TripParty], now: datetime
) -> dict[uuid.UUID, tuple[TripStop, ...]]:
    """By party, the stops that were made or have begun: a new plan cannot change them."""
    stops = [boat.stop for boat in boats if hasattr(boat, "stop")]
    begun = [
        stop
        for stop in stops
        if stop.made or (not stop.dropped and stop.starts_at <= now and not _off(stop))
    ]
    return {
        party.pk: tuple(
            sorted(
                (stop for stop in begun if stop.party_id == party.pk),
                key=lambda stop: (stop.starts_at, stop.position),
            )
        )
        for party in parties
    }


def _off(stop: TripStop) -> bool:
    return stop.viewing is not None and stop.viewing.state == Viewing.State.CALLED_OFF


def _party(day: _Day, party: TripParty, kept: Sequence[TripStop]) -> Party:
    """The rest of the party's day after the kept stops."""
    leaves, back = day.local(party.leaves_at), day.local(party.back_by)
    if kept:
        leaves = max(leaves, *(day.minute(stop.ends_at) for stop in kept))
    if day.now is not None:
        leaves = max(leaves, day.now)
    most_m = None if party.most_km is None else party.most_km * 1000
    if most_m is not None:
        most_m = max(most_m - sum(stop.metres for stop in kept), 0)
    return Party(leaves, back, most_m)


def _origin(sites: _Sites, kept: Sequence[TripStop]) -> int | None:
    placed = [stop for stop in kept if place_of(stop.boat.candidate) is not None]
    return sites.number(placed[-1].boat.candidate) if placed else None


def _matrix(
    trip: Trip, places: Sequence[Place]
) -> tuple[tuple[tuple[int, ...], ...], tuple[tuple[int, ...], ...]]:
    roads = Roads(trip.road_factor, trip.speed_kmh)
    metres = [[0] * len(places) for _ in places]
    for a, here in enumerate(places):
        for b, there in enumerate(places[:a]):
            metres[a][b] = metres[b][a] = roads.metres(here, there)
    return (
        tuple(map(tuple, metres)),
        tuple(tuple(roads.minutes(m) for m in row) for row in metres),
    )
