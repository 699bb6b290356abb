"""A trip and its plan in an answer, as far as the reader may see them."""

from decimal import Decimal

from rest_framework.response import Response

from apps.appraisal.stored.parts import Amount
from apps.common.digests import digest_of
from apps.http.views import versioned_response
from apps.jobs.life import PLANNING, nobody_works
from apps.planning import sentences
from apps.planning.api.serializers import OF_THE_PLAN, PartySerializer, TripRowSerializer
from apps.planning.documents import zone_of
from apps.planning.gathering import place_of
from apps.planning.models import Trip, TripBoat
from apps.planning.selectors import PartyDay, StopSeen, TripSeen
from apps.viewings.checklists import SCREENING


def trip_response(seen: TripSeen, *, status: int = 200) -> Response:
    """Its ETag differs between plans and readers; a change accepts any ETag of the same version."""
    data = trip_serialized(seen)
    return versioned_response(seen.trip, data, status=status, variant=digest_of(data))


def trip_serialized(seen: TripSeen) -> dict[str, object]:
    trip = seen.trip
    row = dict(TripRowSerializer(trip).data)
    for name in OF_THE_PLAN:
        row.pop(name)
    return {
        **row,
        "currency": trip.currency,
        "speed_kmh": trip.speed_kmh,
        "road_factor": trip.road_factor,
        "minutes_per_boat": trip.minutes_per_boat,
        "parties": PartySerializer(trip.parties.all(), many=True).data,
        "boats": [boat_serialized(trip, boat) for boat in seen.boats],
        "hidden_boats": seen.hidden,
        "plan": plan_serialized(seen),
    }


def boat_serialized(trip: Trip, boat: TripBoat) -> dict[str, object]:
    return {
        "candidate": str(boat.candidate_id),
        "name": boat.candidate.name,
        "wanted": boat.wanted,
        "value": amount(boat.stated_value, trip),
        "minutes": boat.stated_minutes,
    }


def plan_serialized(seen: TripSeen) -> dict[str, object]:
    trip = seen.trip
    visible = {str(boat.candidate_id) for boat in seen.boats}
    return {
        "asked": trip.asked,
        "fresh": not trip.stale,
        "failing": trip.failing or (trip.asked and trip.stale and nobody_works(PLANNING)),
        "outcome": trip.outcome,
        "sequence": trip.sequence,
        "computed_at": trip.planned_at,
        "method": sentences.METHOD,
        "value": amount(trip.value, trip),
        "bound": amount(trip.bound, trip),
        "proven": trip.outcome == Trip.Outcome.PLANNED and sentences.gap(trip) == 0,
        "gap": round(sentences.gap(trip), 4),
        "routes": [route_serialized(trip, day) for day in seen.days if day.stops],
        "left_out": [
            {
                "candidate": str(boat.candidate_id),
                "name": boat.candidate.name,
                "why": boat.left_out,
                "sentence": sentences.why(boat),
            }
            for boat in seen.left_out
        ],
        "cannot_keep": [one for one in trip.cannot_keep if one in visible],
        "sentences": sentences.about(seen),
        "cautions": list(sentences.CAUTIONS),
        "caution": SCREENING,
    }


def route_serialized(trip: Trip, day: PartyDay) -> dict[str, object]:
    return {
        "party": str(day.party.pk),
        "label": day.party.label,
        "sets_off_at": day.party.sets_off_at,
        "back_at": day.party.back_at,
        "km": km(day.metres),
        "stops": [stop_serialized(trip, one) for one in day.stops],
    }


def stop_serialized(trip: Trip, seen: StopSeen) -> dict[str, object]:
    stop, boat = seen.stop, seen.boat
    return {
        "position": stop.position,
        "candidate": boat and str(boat.candidate_id),
        "name": boat and boat.candidate.name,
        "place": boat and place_serialized(trip, boat),
        "starts_at": stop.starts_at,
        "ends_at": stop.ends_at,
        "km": km(seen.metres),
        "drive_minutes": seen.drive_minutes,
        "value": boat and amount(boat.value, trip),
        "rests_on": boat and (boat.basis or None),
        "checks": boat and boat.checks,
        "minutes": boat and boat.minutes,
        "state": stop.state,
        "viewing": boat and stop.viewing_id and str(stop.viewing_id),
    }


def km(metres: int | None) -> float | None:
    return None if metres is None else round(metres / 1000, 1)


def place_serialized(trip: Trip, boat: TripBoat) -> dict[str, object]:
    yard, place = boat.candidate.at_yard, place_of(boat.candidate) or (None, None)
    return {
        "yard": yard.name if yard else boat.candidate.yard,
        "yard_id": yard and str(yard.pk),
        "latitude": place[0],
        "longitude": place[1],
        "time_zone": zone_of(trip, boat),
        "hours_known": sentences.hours_known(boat),
    }


def amount(value: Decimal | None, trip: Trip) -> Amount | None:
    return None if value is None else {"amount": f"{value:.2f}", "currency": trip.currency}
