"""Replace a plan by a new one in one transaction, and record the event."""

import uuid
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from apps.planning.event_records import record_event
from apps.planning.gathering import Gathered
from apps.planning.models import Trip, TripBoat, TripParty, TripStop
from apps.planning.solver.problem import Route, Solution

StopsByBoat = dict[uuid.UUID, tuple[Any, ...]]


@transaction.atomic
def plan_store(gathered: Gathered, solution: Solution, now: datetime) -> bool:
    """False, with nothing changed, if the trip has changed since it was read."""
    trip = _unmoved(gathered)
    if trip is None:
        return False
    before = _stops_of(trip)
    _store_boats(gathered, solution)
    _store_stops(gathered, solution)
    _store_parties(gathered, solution)
    after = _stops_of(trip)
    trip.outcome, trip.cannot_keep = Trip.Outcome.PLANNED, []
    trip.value, trip.bound = _money(solution.value), _money(solution.bound)
    another = before != after or trip.planned_at is None
    if another:
        trip.sequence += 1
        trip.planned_at = now
    _planned(trip, gathered)
    if another:
        record_event(
            "trip.planned",
            trip,
            None,
            sequence=trip.sequence,
            came_in=_candidates(after.keys() - before.keys()),
            fell_out=_candidates(before.keys() - after.keys()),
        )
    return True


@transaction.atomic
def unchanged_store(gathered: Gathered) -> None:
    """The problem has not changed since the last solution: neither does the plan."""
    trip = _unmoved(gathered)
    if trip is not None:
        _planned(trip, gathered)


@transaction.atomic
def impossible_store(gathered: Gathered, boats: Sequence[int]) -> None:
    """The agreed visits cannot be kept. The plan does not change until people change something."""
    trip = _unmoved(gathered)
    if trip is None:
        return
    cannot_keep = sorted(str(gathered.boats[n].candidate_id) for n in boats)
    news = trip.outcome != Trip.Outcome.IMPOSSIBLE or trip.cannot_keep != cannot_keep
    trip.outcome, trip.cannot_keep = Trip.Outcome.IMPOSSIBLE, cannot_keep
    _planned(trip, gathered)
    if news:
        record_event("trip.cannot_be_kept", trip, None, candidates=cannot_keep)


def _unmoved(gathered: Gathered) -> Trip | None:
    """The trip, locked; None if it has changed since it was read."""
    read = gathered.trip
    locked = Trip.objects.select_for_update(no_key=True)
    return locked.filter(pk=read.pk, revision=read.revision).first()


def _planned(trip: Trip, gathered: Gathered) -> None:
    trip.planned_revision, trip.digest, trip.values_anew = trip.revision, gathered.digest, False
    trip.save(
        update_fields=[
            "planned_revision",
            "digest",
            "values_anew",
            "outcome",
            "cannot_keep",
            "value",
            "bound",
            "sequence",
            "planned_at",
        ]
    )


def _money(cents: int) -> Decimal:
    return Decimal(cents) / 100


def _stops_of(trip: Trip) -> StopsByBoat:
    """The facts of the stops that people see: if any changes, the plan is a different one."""
    rows = TripStop.objects.filter(boat__trip=trip, dropped=False)
    fields = ("boat__candidate_id", "party_id", "position", "starts_at", "ends_at")
    return {row[0]: row[1:] for row in rows.values_list(*fields)}


def _candidates(ids: Any) -> list[str]:
    return sorted(map(str, ids))


def _store_boats(gathered: Gathered, solution: Solution) -> None:
    left_out = dict(gathered.left_out)
    left_out |= {gathered.boats[n].pk: why.value for n, why in solution.left_out.items()}
    boats = list(gathered.trip.boats.all())
    for boat in boats:
        look = gathered.looks[boat.pk]
        boat.value, boat.basis = look.value, look.basis
        boat.checks, boat.minutes = look.checks, look.minutes
        boat.left_out = left_out.get(boat.pk, "")
    TripBoat.objects.bulk_update(boats, ["value", "basis", "checks", "minutes", "left_out"])


def _store_stops(gathered: Gathered, solution: Solution) -> None:
    """Drop all first, so that no two stops have the same position."""
    boats = {boat.pk: boat for boat in gathered.trip.boats.all()}
    stored = {pk: boat.stop for pk, boat in boats.items() if hasattr(boat, "stop")}
    TripStop.objects.filter(boat__in=boats).update(dropped=True)
    stops = [stop for route in solution.routes for stop in _stops(gathered, route)]
    again = [stop for stop in stops if stop.pk in stored]
    for stop in again:
        stop.viewing_id = stored[stop.pk].viewing_id
    TripStop.objects.bulk_update(
        again,
        ["party", "position", "starts_at", "ends_at", "metres", "drive_minutes", "dropped"],
    )
    TripStop.objects.bulk_create([stop for stop in stops if stop.pk not in stored])


def _stops(gathered: Gathered, route: Route) -> list[TripStop]:
    """The kept stops with new positions, followed by those of the route."""
    party = gathered.parties[route.party]
    kept = list(gathered.kept[party.pk])
    for position, stop in enumerate(kept, start=1):
        stop.position, stop.dropped = position, False
    return kept + [
        TripStop(
            boat=gathered.boats[stop.boat],
            party=party,
            position=position,
            starts_at=gathered.at(stop.starts),
            ends_at=gathered.at(stop.ends),
            metres=stop.metres,
            drive_minutes=stop.drive,
        )
        for position, stop in enumerate(route.stops, start=len(kept) + 1)
    ]


def _store_parties(gathered: Gathered, solution: Solution) -> None:
    for route in solution.routes:
        party, kept = gathered.parties[route.party], gathered.kept[gathered.parties[route.party].pk]
        goes = bool(route.stops or kept)
        if not kept:  # else its departure is past
            party.sets_off_at = gathered.at(route.sets_off) if goes else None
        party.back_at = gathered.at(_back(gathered, route)) if goes else None
        party.metres = sum(stop.metres for stop in kept) + _metres(gathered, route) if goes else 0
    TripParty.objects.bulk_update(gathered.parties, ["sets_off_at", "back_at", "metres"])


def _back(gathered: Gathered, route: Route) -> int:
    """When the party is home: after the last stop of the route, or else after the kept stops."""
    if route.stops:
        return route.back
    problem = gathered.problem
    here, home = problem.origin(route.party), problem.home(route.party)
    last = gathered.kept[gathered.parties[route.party].pk][-1]
    ended = int((last.ends_at - gathered.zero).total_seconds() // 60)
    return ended + problem.minutes[here][home]


def _metres(gathered: Gathered, route: Route) -> int:
    problem = gathered.problem
    if route.stops:
        return route.metres
    return problem.metres[problem.origin(route.party)][problem.home(route.party)]
