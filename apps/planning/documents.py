"""A plan in other forms: a map as GeoJSON (RFC 7946), and a calendar (iCalendar, RFC 5545)."""

import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, TypedDict
from zoneinfo import ZoneInfo

from apps.planning.gathering import place_of
from apps.planning.models import Trip, TripBoat, TripStop
from apps.planning.selectors import PartyDay, TripSeen
from apps.planning.sentences import CAUTIONS
from apps.second_opinions.places import Place
from apps.viewings.checklists import SCREENING

GEOJSON = "application/geo+json"
ICALENDAR = "text/calendar"

if TYPE_CHECKING:
    from icalendar import Event

# --- The map -------------------------------------------------------------------------------------


Position = list[float]


class Geometry(TypedDict):
    type: str
    coordinates: Position | list[Position]


class Feature(TypedDict):
    type: str
    geometry: Geometry
    properties: dict[str, str | float | None]


class FeatureCollection(TypedDict):
    type: str
    features: list[Feature]


def plan_geojson(seen: TripSeen) -> FeatureCollection:
    """For each party with stops: its start, its stops, and the line between them.

    The line is straight, because roads are not known. A party with a boat that the reader may not
    see has no line: it would reveal where she lies.
    """
    return {
        "type": "FeatureCollection",
        "features": [feature for day in seen.days if day.stops for feature in _features(day)],
    }


def _features(day: PartyDay) -> Iterator[Feature]:
    party = day.party
    yield _feature(
        "Point",
        _position(party.place),
        kind="start",
        party=str(party.pk),
        label=party.label,
        sets_off_at=_utc(party.sets_off_at),
        back_at=_utc(party.back_at),
    )
    places = [place_of(one.boat.candidate) if one.boat else None for one in day.stops]
    for one, place in zip(day.stops, places, strict=True):
        if one.boat is not None and place is not None:
            yield _feature(
                "Point",
                _position(place),
                kind="stop",
                party=str(party.pk),
                position=one.stop.position,
                candidate=str(one.boat.candidate_id),
                name=one.boat.candidate.name,
                starts_at=_utc(one.stop.starts_at),
                ends_at=_utc(one.stop.ends_at),
            )
    if None not in places and day.metres is not None:
        way = [party.place, *(place for place in places if place), party.place]
        yield _feature(
            "LineString",
            [_position(place) for place in way],
            kind="way",
            party=str(party.pk),
            label=party.label,
            km=round(day.metres / 1000, 1),
        )


def _feature(
    geometry: str, coordinates: Position | list[Position], **properties: str | float | None
) -> Feature:
    return {
        "type": "Feature",
        "geometry": {"type": geometry, "coordinates": coordinates},
        "properties": properties,
    }


def _position(place: Place) -> Position:
    """Longitude first (RFC 7946 section 3.1.1)."""
    latitude, longitude = place
    return [round(longitude, 6), round(latitude, 6)]


def _utc(at: datetime | None) -> str | None:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z") if at else None


# --- The calendar --------------------------------------------------------------------------------


def plan_calendar(seen: TripSeen, party: uuid.UUID | None = None) -> bytes:
    """An event for each stop that the reader may see, of all parties or of one.

    An event keeps its UID in all plans; SEQUENCE goes up whenever the plan changes. A dropped stop
    is a cancelled event, so that calendars remove it.
    """
    from icalendar import Calendar  # it loads slowly

    calendar = Calendar()
    calendar.add("prodid", "-//Hardstand//Trips//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    days: dict[uuid.UUID | None, PartyDay] = {day.party.pk: day for day in seen.days}
    for boat in seen.boats:
        stop = getattr(boat, "stop", None)
        if stop is not None and party in (None, stop.party_id):
            calendar.add_component(_event(seen.trip, boat, stop, days.get(stop.party_id)))
    first = seen.trip.day - timedelta(days=366)
    calendar.add_missing_timezones(first_date=first, last_date=_year_after(seen.trip.day))
    return bytes(calendar.to_ical())


def _year_after(day: date) -> date:
    return day + timedelta(days=366)


def _event(trip: Trip, boat: TripBoat, stop: TripStop, day: PartyDay | None) -> "Event":
    from icalendar import Event

    zone = ZoneInfo(zone_of(trip, boat))
    place = place_of(boat.candidate)
    yard = boat.candidate.at_yard
    where = [boat.candidate.yard, yard.name if yard else ""]
    event = Event()
    event.add("uid", str(boat.pk))
    event.add("sequence", trip.sequence)
    event.add("dtstamp", (trip.planned_at or trip.updated_at).astimezone(UTC))
    event.add("dtstart", stop.starts_at.astimezone(zone))
    event.add("dtend", stop.ends_at.astimezone(zone))
    event.add("status", status_of(trip, stop))
    event.add("summary", f"Look at {boat.candidate.name}")
    location = ", ".join(dict.fromkeys(part for part in where if part))
    if location:
        event.add("location", location)
    if place is not None:
        event.add("geo", place)
    event.add("description", "\n".join(_description(boat, stop, day)))
    return event


def _description(boat: TripBoat, stop: TripStop, day: PartyDay | None) -> Iterator[str]:
    if day is not None:
        legs = {one.stop.pk: one.metres for one in day.stops}
        metres = legs.get(stop.pk)
        way = "" if metres is None else f"; {metres / 1000:.1f} km to get there"
        yield f"{day.party.label}, stop {stop.position}{way}."
    if boat.checks is not None:
        yield f"{boat.checks} checks can be made."
    yield from CAUTIONS
    yield SCREENING


def status_of(trip: Trip, stop: TripStop) -> str:
    """STATUS of a VEVENT (RFC 5545 section 3.8.1.11): confirmed once a visit is agreed."""
    if stop.dropped or trip.state == Trip.State.CALLED_OFF:
        return "CANCELLED"
    return "CONFIRMED" if stop.agreed or stop.made else "TENTATIVE"


def zone_of(trip: Trip, boat: TripBoat) -> str:
    """The time zone of the look: the yard's, if she lies at one."""
    yard = boat.candidate.at_yard
    return yard.time_zone if yard else trip.time_zone
