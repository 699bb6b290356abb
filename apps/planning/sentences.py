"""A plan in words, and its cautions."""

from collections.abc import Iterator

from apps.common.wording import PRACTICE_FIRST
from apps.planning.models import LEFT_OUT, Trip, TripBoat
from apps.planning.selectors import StopSeen, TripSeen, stop_of

METHOD = "day-plan-1"

# Sources of the cautions: common practice.
CAUTIONS = (
    f"Tell the yard before you come and keep to its rules. {PRACTICE_FIRST}",
    "Nobody goes aboard, up a ladder or under a hull alone: somebody stays within call.",
    "A ladder stands firm on level ground, tied at the top, one person at a time. Without a good "
    "one stay on the ground.",
    "Boats on stands: never move, lean on or untie a stand, a chain or a wedge; keep off in strong "
    "wind, on ice and on soft ground.",
    "Leave gas, engine, batteries, seacocks and rigging alone unless the owner shows them.",
    "Daylight, tide, ice, wind and roads are not in this plan: check them locally.",
)


def why(boat: TripBoat) -> str:
    return f"{boat.candidate.name}: {LEFT_OUT[boat.left_out]}."


def about(seen: TripSeen) -> list[str]:
    """How good the plan is, what it assumes, and what it leaves out."""
    return list(_about(seen))


def _about(seen: TripSeen) -> Iterator[str]:
    trip = seen.trip
    if trip.outcome == Trip.Outcome.IMPOSSIBLE:
        yield (
            "The agreed visits do not fit within the given hours and distances: move or call "
            "off a visit, or give the party more time. Until then the plan does not change."
        )
    if trip.outcome == Trip.Outcome.FAILED:
        yield "Planning failed; change the trip or ask for a plan again."
    elif trip.failing:
        yield "The last attempt at a plan failed; it is tried again."
    if trip.outcome != Trip.Outcome.PLANNED:
        return
    boats = trip.boats.all()
    if not any(stop_of(boat) for boat in boats):
        given = "each boat left out says why" if boats else "no boat is on the trip"
        yield f"The plan has no stops: {given}."
        return
    if gap(trip) == 0:
        yield "Proven: no plan is worth more."
    else:
        yield (
            f"No plan is worth more than {trip.bound} {trip.currency}; this one is within "
            f"{gap(trip):.1%} of that."
        )
    yield (
        "The value of a look is how far it is expected to move the boat's expected cost, "
        "unless you gave another value; buyers' opinions are not used. Values of looks are "
        "added as if each look were the only one."
    )
    yield (
        f"The plan assumes roads of {trip.road_factor:g} times the distance on the map, driven "
        f"at {trip.speed_kmh:g} km/h, and looks of {trip.minutes_per_boat} minutes plus the time "
        "of the possible checks (project's own estimate)."
    )
    for day in seen.days:
        if day.stops and len(day.party.people.all()) < 2:
            yield f"{day.party.label}: take somebody along, so that nobody is alone in the yard."
    for name in sorted({stop.boat.candidate.name for stop in _hours_unknown(seen) if stop.boat}):
        yield f"{name}: the opening hours are not known; ask before you drive."


def _hours_unknown(seen: TripSeen) -> Iterator[StopSeen]:
    for day in seen.days:
        for stop in day.stops:
            if stop.boat is not None and not hours_known(stop.boat):
                yield stop


def hours_known(boat: TripBoat) -> bool:
    yard = boat.candidate.at_yard
    return yard is not None and yard.opening_hours is not None


def gap(trip: Trip) -> float:
    """The part of the bound by which a better plan could beat this one, at most."""
    if not trip.bound or trip.value is None:
        return 0.0
    return float((trip.bound - trip.value) / trip.bound)
