"""The plan as a calendar (RFC 5545) and as a map (RFC 7946)."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from icalendar import Calendar

from tests.planning.conftest import (
    car,
    close_yard,
    planned,
    post_trip,
    replanned,
)


def calendar(cast, trip_id, query=""):
    answer = cast.ivy.get(f"/trips/{trip_id}/plan.ics{query}")
    assert answer.status_code == 200, answer.content
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    return Calendar.from_ical(answer.content)


def events_of(cast, trip_id, query=""):
    found = calendar(cast, trip_id, query).walk("VEVENT")
    return {str(one["SUMMARY"]).removeprefix("Look at "): one for one in found}


def test_a_calendar_says_when_and_where(cast, trip_id):
    plan = planned(cast, trip_id)
    found = calendar(cast, trip_id)
    assert (found["VERSION"], found["METHOD"]) == ("2.0", "PUBLISH")
    assert [str(zone["TZID"]) for zone in found.walk("VTIMEZONE")] == ["Europe/Berlin"]
    stops = {stop["name"]: stop for stop in plan["routes"][0]["stops"]}
    events = events_of(cast, trip_id)
    assert events.keys() == stops.keys()
    for name, event in events.items():
        starts = event["DTSTART"].dt
        assert event["DTSTART"].params["TZID"] == "Europe/Berlin"
        assert starts.astimezone(UTC) == datetime.fromisoformat(stops[name]["starts_at"])
        assert starts.tzinfo == ZoneInfo("Europe/Berlin")
        assert event["DTEND"].dt > starts
        assert (event["STATUS"], event["SEQUENCE"]) == ("TENTATIVE", 1)
        assert event["DTSTAMP"].dt.tzinfo is not None
        assert str(event["LOCATION"]) == stops[name]["place"]["yard"]
        assert (event["GEO"].latitude, event["GEO"].longitude) == (
            stops[name]["place"]["latitude"],
            stops[name]["place"]["longitude"],
        )
        assert "alone" in event["DESCRIPTION"]
        assert "not a survey" in event["DESCRIPTION"]


def test_an_event_stays_itself_through_plans(cast, boats, yards, trip_id):
    planned(cast, trip_id)
    first = events_of(cast, trip_id)
    cast.ben.post(f"/trips/{trip_id}/viewings", {"boats": [boats["Plover"]]})
    agreed = events_of(cast, trip_id)
    assert (agreed["Plover"]["STATUS"], agreed["Plover"]["SEQUENCE"]) == ("CONFIRMED", 2)
    close_yard(yards["south"], cast)
    replanned(cast, trip_id)
    then = events_of(cast, trip_id)
    assert {name: str(one["UID"]) for name, one in then.items()} == {
        name: str(one["UID"]) for name, one in first.items()
    }
    assert {name: str(one["STATUS"]) for name, one in then.items()} == {
        "Plover": "CONFIRMED",
        "Skua": "TENTATIVE",
        "Fulmar": "CANCELLED",
        "Petrel": "CANCELLED",
    }
    assert {int(one["SEQUENCE"]) for one in then.values()} == {3}


def test_a_trip_called_off_is_cancelled(cast, trip_id):
    """A calendar ignores an event whose SEQUENCE is not higher (RFC 5546 section 2.1.5)."""
    planned(cast, trip_id)
    cast.ben.change("PATCH", f"/trips/{trip_id}", {"state": "called_off"})
    off = events_of(cast, trip_id).values()
    assert {(str(one["STATUS"]), one["SEQUENCE"]) for one in off} == {("CANCELLED", 2)}
    cast.ben.change("PATCH", f"/trips/{trip_id}", {"note": "Gale"})
    assert {one["SEQUENCE"] for one in events_of(cast, trip_id).values()} == {2}
    cast.ben.change("PATCH", f"/trips/{trip_id}", {"state": "planned"})
    again = events_of(cast, trip_id).values()
    assert {(str(one["STATUS"]), one["SEQUENCE"]) for one in again} == {("TENTATIVE", 3)}


def test_what_a_party_that_is_left_out_was_to_see_is_cancelled(cast, boats):
    cars = [car(cast, "ben"), car(cast, "hal", label="Hal's van")]
    trip_id = post_trip(cast, boats, parties=cars).json()["id"]
    planned(cast, trip_id)
    before = events_of(cast, trip_id)
    nowhere = {"label": "Far off", "latitude": 40.0, "longitude": 10.4}
    other = car(cast, "bea", label="Bea's bus", start=nowhere)
    changed = cast.ben.change("PATCH", f"/trips/{trip_id}", {"parties": [other]})
    assert changed.status_code == 200, changed.content
    replanned(cast, trip_id)
    now = events_of(cast, trip_id)
    assert {name: str(one["UID"]) for name, one in now.items()} == {
        name: str(one["UID"]) for name, one in before.items()
    }
    assert {str(one["STATUS"]) for one in now.values()} == {"CANCELLED"}
    assert {int(one["SEQUENCE"]) for one in now.values()} == {2}


def test_what_somebody_alone_in_a_car_was_to_see_is_cancelled_when_they_leave(cast, boats):
    trip_id = post_trip(cast, boats, parties=[car(cast, "hal")]).json()["id"]
    planned(cast, trip_id)
    cast.ola.change("DELETE", f"/members/{cast.membership(cast.hal).pk}")
    replanned(cast, trip_id)
    now = events_of(cast, trip_id)
    assert {str(one["STATUS"]) for one in now.values()} == {"CANCELLED"}
    assert len(now) == 4


def test_lines_are_folded_and_text_is_escaped(cast, boats, list_id, yards):
    """No line above 75 octets (section 3.1); commas, semicolons, line ends escaped (3.3.11)."""
    name = "Kittiwake; the blue one, with a very long name that goes on and on, öäü "
    place = {"yard_id": yards["north"]}
    body = {"name": name.strip(), "place": place}
    boat = cast.ben.post(f"/lists/{list_id}/candidates", body).json()["id"]
    only = [{"candidate": boat, "value": {"amount": "5.00", "currency": "USD"}}]
    trip = post_trip(cast, boats, boats=only).json()["id"]
    planned(cast, trip)
    raw = cast.ivy.get(f"/trips/{trip}/plan.ics").content
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert name.strip() in events_of(cast, trip)


def test_a_calendar_of_one_party(cast, boats):
    far = {"label": "The other side", "latitude": 54.19, "longitude": 10.42}
    cars = [
        car(cast, "ben", leaves_at="08:00", back_by="10:40"),
        car(cast, "hal", label="Hal's van", start=far, leaves_at="09:00", back_by="11:30"),
    ]
    trip_id = post_trip(cast, boats, parties=cars).json()["id"]
    plan = planned(cast, trip_id)
    hals = plan["routes"][1]["party"]
    assert events_of(cast, trip_id, f"?party={hals}").keys() == {"Fulmar", "Petrel"}


def test_a_map(cast, trip_id):
    plan = planned(cast, trip_id)
    answer = cast.ivy.get(f"/trips/{trip_id}/plan.geojson")
    assert answer["Content-Type"] == "application/geo+json"
    drawn = answer.json()
    assert drawn["type"] == "FeatureCollection"
    kinds = [one["properties"]["kind"] for one in drawn["features"]]
    assert kinds == ["start", *["stop"] * 4, "way"]
    start, *stops, way = drawn["features"]
    # Longitude first (section 3.1.1): here it is the smaller one.
    assert start["geometry"] == {"type": "Point", "coordinates": [10.13, 54.32]}
    assert [one["properties"]["name"] for one in stops] == [
        stop["name"] for stop in plan["routes"][0]["stops"]
    ]
    assert way["geometry"]["type"] == "LineString"
    assert way["geometry"]["coordinates"] == [
        start["geometry"]["coordinates"],
        *(stop["geometry"]["coordinates"] for stop in stops),
        start["geometry"]["coordinates"],
    ]


def test_without_a_plan_both_are_empty(cast, trip_id):
    assert events_of(cast, trip_id) == {}
    assert cast.ivy.get(f"/trips/{trip_id}/plan.geojson").json()["features"] == []
