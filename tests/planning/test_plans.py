"""Plans: made by the worker, updated when a stop is dropped, turned into visits."""

from datetime import UTC, datetime, timedelta

import pytest

from apps.planning.jobs import trip_plan, trips_due
from apps.planning.models import Trip, TripStop
from apps.planning.selectors import trip_for
from apps.planning.services import trip_change
from apps.viewings.models import Viewing
from tests.boats.conftest import events
from tests.conftest import pointers
from tests.planning.conftest import (
    DAY,
    HOME,
    SOUTH,
    car,
    close_yard,
    due,
    left_out,
    names,
    planned,
    post_trip,
    read,
    replanned,
    usd,
)


def test_it_works(cast, trip_id):
    asked = cast.ben.post(f"/trips/{trip_id}/plans")
    assert asked.status_code == 202, asked.content
    assert (asked.json()["plan"]["asked"], asked.json()["plan"]["fresh"]) == (True, False)
    plan = replanned(cast, trip_id)
    assert (plan["outcome"], plan["fresh"], plan["sequence"]) == ("planned", True, 1)
    # Four hours of looking and little driving: all fit, and boats of one yard follow each other.
    (route,) = plan["routes"]
    yards = [stop["place"]["yard"] for stop in route["stops"]]
    assert sorted(stop["name"] for stop in route["stops"]) == ["Fulmar", "Petrel", "Plover", "Skua"]
    assert yards[0] == yards[1] != yards[2] == yards[3]
    first, second = route["stops"][:2]
    assert (second["km"], second["drive_minutes"]) == (0.0, 0)
    assert second["starts_at"] == first["ends_at"]
    assert (first["minutes"], first["value"]["currency"], first["rests_on"]) == (60, "USD", "given")
    assert (plan["value"], plan["bound"]) == (usd("1000.00"), usd("1000.00"))
    assert (plan["proven"], plan["gap"], plan["left_out"]) == (True, 0.0, [])
    assert plan["sentences"][0] == "Proven: no plan is worth more."
    assert events(cast.group.id)[-2:] == ["trip.plan_asked", "trip.planned"]


def test_the_same_again_for_the_same(cast, boats, trip_id):
    one = planned(cast, trip_id)
    again = planned(cast, trip_id)
    assert again["sequence"] == 1, "it is not another plan"
    assert again == one
    other = planned(cast, post_trip(cast, boats).json()["id"])
    assert names(other) == names(one)


def test_hours_choose_what_is_worth_most(cast, boats):
    short = [car(cast, leaves_at="08:00", back_by="10:40")]
    plan = planned(cast, post_trip(cast, boats, parties=short).json()["id"])
    assert names(plan) == [["Plover", "Skua"]]
    assert left_out(plan) == {"Fulmar": "others_worth_more", "Petrel": "others_worth_more"}
    assert "other boats are worth more" in plan["left_out"][0]["sentence"]


def test_two_cars_from_two_places(cast, boats):
    far = {"label": "The other side", "latitude": 54.19, "longitude": 10.42}
    cars = [
        car(cast, "ben", leaves_at="08:00", back_by="10:40"),
        car(cast, "hal", label="Hal's van", start=far, leaves_at="09:00", back_by="11:30"),
    ]
    plan = planned(cast, post_trip(cast, boats, parties=cars).json()["id"])
    by_car = {route["label"]: {stop["name"] for stop in route["stops"]} for route in plan["routes"]}
    assert by_car == {"Ben's car": {"Plover", "Skua"}, "Hal's van": {"Fulmar", "Petrel"}}
    assert any("take somebody along" in said for said in plan["sentences"])


def test_a_party_alone_is_told_to_take_somebody_along(cast, boats, trip_id):
    assert not any("take somebody along" in said for said in planned(cast, trip_id)["sentences"])


def test_whoever_drives_no_further_stays_within(cast, boats):
    near = [car(cast, most_km=40)]
    plan = planned(cast, post_trip(cast, boats, parties=near).json()["id"])
    assert names(plan) == [["Plover", "Skua"]]
    assert plan["routes"][0]["km"] <= 40
    assert set(left_out(plan).values()) == {"out_of_reach"}


def test_why_boats_are_left_out(cast, boats, yards, list_id):
    def add(name, **place):
        body = {"name": name, "place": place} if place else {"name": name}
        return cast.ben.post(f"/lists/{list_id}/candidates", body).json()["id"]

    nowhere, unknown = add("Nowhere"), add("Unknown", latitude=54.4, longitude=10.2)
    close_yard(yards["south"], cast)
    cast.ben.post(
        f"/candidates/{boats['Skua']}/stage-changes", {"stage": "struck_off", "reason": "Blisters"}
    )
    some = [{"candidate": boats[name], "value": usd("5.00")} for name in ("Skua", "Fulmar")]
    some += [{"candidate": boats["Plover"], "value": usd("0.00")}]
    some += [{"candidate": nowhere, "value": usd("5.00")}, {"candidate": unknown}]
    plan = planned(cast, post_trip(cast, boats, boats=some).json()["id"])
    assert left_out(plan) == {
        "Skua": "not_looked_at_now",
        "Fulmar": "closed",
        "Plover": "no_value",
        "Nowhere": "no_place",
        "Unknown": "no_value_known",
    }
    assert plan["routes"] == []
    assert plan["proven"]


def test_too_early_for_the_yard(cast, boats):
    early = [car(cast, leaves_at="04:00", back_by="08:30")]
    plan = planned(cast, post_trip(cast, boats, parties=early).json()["id"])
    assert set(left_out(plan).values()) == {"no_time"}


def test_hours_nobody_noted_are_told(cast, boats, yards):
    cast.ben.change("PATCH", f"/yards/{yards['north']}", {"opening_hours": None})
    plan = planned(cast, post_trip(cast, boats).json()["id"])
    assert any(
        said.startswith("Plover: the opening hours are not known") for said in plan["sentences"]
    )


# --- Kept up -------------------------------------------------------------------------------------


def test_nothing_is_planned_that_nobody_asked_for(cast, boats, trip_id, yards):
    close_yard(yards["north"], cast)
    assert not trips_due().exists()
    assert trip_plan(trip_id=trip_id) == 0


def test_a_boat_struck_off_falls_out(cast, boats, trip_id):
    planned(cast, trip_id)
    cast.ben.post(
        f"/candidates/{boats['Plover']}/stage-changes", {"stage": "struck_off", "reason": "Rot"}
    )
    assert due(trip_id)
    plan = replanned(cast, trip_id)
    assert all("Plover" not in route for route in names(plan))
    assert left_out(plan)["Plover"] == "not_looked_at_now"
    assert plan["sequence"] == 2
    assert events(cast.group.id)[-1] == "trip.planned"


def test_a_yard_that_closes_falls_out(cast, boats, trip_id, yards):
    planned(cast, trip_id)
    close_yard(yards["north"], cast)
    assert due(trip_id)
    plan = replanned(cast, trip_id)
    assert left_out(plan) == {"Plover": "closed", "Skua": "closed"}
    assert plan["sequence"] == 2


def test_a_change_is_planned_whatever_came_since_it_was_read(cast, boats, trip_id, yards):
    """Otherwise a plan that was made without it could have the same revision."""
    planned(cast, trip_id)
    read_before = trip_for(cast.ben.person, trip_id)
    close_yard(yards["south"], cast)
    replanned(cast, trip_id)
    facts = {"speed_kmh": 20.0}
    version = read_before.version
    trip_change(trip=read_before, by=cast.ben.person, expected_version=version, facts=facts)
    assert due(trip_id)


def test_what_does_not_matter_changes_nothing(cast, boats, trip_id):
    before = planned(cast, trip_id)
    cast.ben.change("PATCH", f"/candidates/{boats['Plover']}", {"note": "Blue hull"})
    assert due(trip_id)
    assert replanned(cast, trip_id) == before
    assert events(cast.group.id)[-1] == "candidate.changed"


def test_values_stay_until_a_plan_is_asked_for(cast, trip_id):
    planned(cast, trip_id)
    assert not Trip.objects.get().values_anew
    asked = cast.ben.post(f"/trips/{trip_id}/plans")
    assert asked.json()["plan"]["outcome"] == "planned", "until then the plan stays"
    assert Trip.objects.get().values_anew


def test_a_trip_called_off_is_left_alone(cast, boats, trip_id, yards):
    planned(cast, trip_id)
    cast.ben.change("PATCH", f"/trips/{trip_id}", {"state": "called_off"})
    close_yard(yards["north"], cast)
    assert not trips_due().exists()


def test_a_day_that_is_over_is_left_alone(cast, trip_id, yards):
    planned(cast, trip_id)
    Trip.objects.update(day=DAY - timedelta(days=60))
    close_yard(yards["north"], cast)
    assert not trips_due().exists()


# --- Agreed --------------------------------------------------------------------------------------


def agree(cast, trip_id, who="ben", **body):
    return getattr(cast, who).post(f"/trips/{trip_id}/viewings", body)


def test_stops_become_visits(cast, boats, trip_id):
    plan = planned(cast, trip_id)
    agreed = agree(cast, trip_id, boats=[boats["Plover"]])
    assert agreed.status_code == 201, agreed.content
    viewing = Viewing.objects.get()
    stop = next(s for s in agreed.json()["plan"]["routes"][0]["stops"] if s["name"] == "Plover")
    assert (stop["state"], stop["viewing"]) == ("agreed", str(viewing.pk))
    assert viewing.starts_at == datetime.fromisoformat(stop["starts_at"])
    assert {person.name for person in viewing.people.all()} == {"Ben", "Bea"}
    assert agreed.json()["plan"]["sequence"] == plan["sequence"] + 1
    assert events(cast.group.id)[-2:] == ["viewing.added", "trip.stops_agreed"]
    rest = agree(cast, trip_id)
    assert {stop["state"] for stop in rest.json()["plan"]["routes"][0]["stops"]} == {"agreed"}
    assert Viewing.objects.count() == 4
    assert agree(cast, trip_id).json()["plan"]["sequence"] == rest.json()["plan"]["sequence"]


def test_only_what_is_planned_becomes_a_visit(cast, boats, trip_id, yards):
    assert agree(cast, trip_id).json()["code"] == "no_plan_yet"
    planned(cast, trip_id)
    close_yard(yards["south"], cast)
    assert agree(cast, trip_id).json()["code"] == "no_plan_yet"
    replanned(cast, trip_id)
    assert pointers(agree(cast, trip_id, boats=[boats["Fulmar"]])) == {"/boats/0"}
    assert not Viewing.objects.exists()


def test_what_was_agreed_stays_when_something_better_comes(cast, boats, trip_id):
    """An hour is agreed for the boat of least value; a new plan keeps it."""
    planned(cast, trip_id)
    agree(cast, trip_id, boats=[boats["Petrel"]])
    kept = TripStop.objects.get(boat__candidate=boats["Petrel"])
    path, parties = f"/trips/{trip_id}", read(cast, trip_id)["parties"]
    parties = [{**car(cast), "id": parties[0]["id"], "leaves_at": "12:00"}]
    assert cast.ben.change("PATCH", path, {"parties": parties}).status_code == 200
    plan = replanned(cast, trip_id)
    stops = {s["name"]: s for s in plan["routes"][0]["stops"]} if plan["routes"] else {}
    if plan["outcome"] == "impossible":
        assert plan["cannot_keep"] == [boats["Petrel"]]
    else:
        assert stops["Petrel"]["starts_at"] == kept.starts_at.isoformat().replace("+00:00", "Z")


def test_a_visit_called_off_falls_out(cast, boats, trip_id):
    planned(cast, trip_id)
    agree(cast, trip_id)
    before = {s.boat.candidate.name: s for s in TripStop.objects.select_related("boat__candidate")}
    viewing = before["Skua"].viewing_id
    cast.ben.change("PATCH", f"/viewings/{viewing}", {"state": "called_off"})
    assert due(trip_id)
    plan = replanned(cast, trip_id)
    assert left_out(plan) == {"Skua": "called_off"}
    for stop in plan["routes"][0]["stops"]:  # the others are expected when they were told
        assert datetime.fromisoformat(stop["starts_at"]) == before[stop["name"]].starts_at
    cast.ben.change("PATCH", f"/viewings/{viewing}", {"state": "planned"})
    assert left_out(replanned(cast, trip_id)) == {}


def test_what_cannot_be_kept_is_said_and_the_plan_stays(cast, boats, trip_id):
    before = planned(cast, trip_id)
    agree(cast, trip_id, boats=[boats["Plover"]])
    viewing = Viewing.objects.get()
    moved = viewing.starts_at.replace(hour=22)
    cast.ben.change("PATCH", f"/viewings/{viewing.pk}", {"starts_at": moved})
    plan = replanned(cast, trip_id)
    assert (plan["outcome"], plan["fresh"]) == ("impossible", True)
    assert plan["cannot_keep"] == [boats["Plover"]]
    assert "do not fit" in plan["sentences"][0]
    assert names(plan) == names(before)
    assert events(cast.group.id)[-1] == "trip.cannot_be_kept"


def test_a_visit_moved_to_another_day_is_not_of_this_trip(cast, boats, trip_id):
    planned(cast, trip_id)
    agree(cast, trip_id, boats=[boats["Plover"]])
    viewing = Viewing.objects.get()
    later = viewing.starts_at + timedelta(days=3)
    cast.ben.change("PATCH", f"/viewings/{viewing.pk}", {"starts_at": later})
    assert left_out(replanned(cast, trip_id)) == {"Plover": "another_day"}


@pytest.mark.parametrize(
    ("change", "at"),
    [
        (lambda cast, boats: {"day": str(DAY + timedelta(days=1))}, "/day"),
        (lambda cast, boats: {"parties": [car(cast)]}, "/parties"),
        (lambda cast, boats: {"boats": [{"candidate": boats["Skua"]}]}, "/boats"),
    ],
)
def test_what_was_agreed_is_not_dropped_by_the_way(cast, boats, trip_id, change, at):
    planned(cast, trip_id)
    agree(cast, trip_id, boats=[boats["Plover"]])
    assert pointers(cast.ben.change("PATCH", f"/trips/{trip_id}", change(cast, boats))) == {at}


# --- On the day ----------------------------------------------------------------------------------


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"{DAY}T{clock}").replace(tzinfo=UTC)


def on_the_day(trip_id, now) -> None:
    trip_plan(trip_id=trip_id, now=now)


def test_what_was_made_or_has_begun_stays(cast, boats, trip_id, yards):
    planned(cast, trip_id)
    agree(cast, trip_id)
    stops = list(TripStop.objects.order_by("position").select_related("boat__candidate"))
    first, second, third, fourth = stops
    cast.ben.change("PATCH", f"/viewings/{first.viewing_id}", {"state": "made"})
    # While they are at the second, the seller of the third calls off.
    cast.ben.change("PATCH", f"/viewings/{third.viewing_id}", {"state": "called_off"})
    on_the_day(trip_id, second.starts_at + timedelta(minutes=10))
    now = {s.boat_id: s for s in TripStop.objects.filter(dropped=False)}
    for stop in (first, second, fourth):
        assert now[stop.pk].starts_at == stop.starts_at
    assert third.pk not in now
    assert sorted(s.position for s in now.values()) == [1, 2, 3]
    states = [s["state"] for s in read(cast, trip_id)["plan"]["routes"][0]["stops"]]
    assert states == ["made", "agreed", "agreed"]


def test_after_what_was_made_the_rest_is_planned_from_there(cast, boats):
    """The party is in the south at noon; no boat north of home fits in after that."""
    trip_id = post_trip(cast, boats).json()["id"]
    planned(cast, trip_id)
    stops = TripStop.objects.order_by("position").select_related("boat__candidate")
    first = stops[0]
    agree(cast, trip_id, boats=[str(first.boat.candidate_id)])
    cast.ben.change(
        "PATCH", f"/viewings/{TripStop.objects.get(pk=first.pk).viewing_id}", {"state": "made"}
    )
    cast.ben.post(f"/trips/{trip_id}/plans")
    on_the_day(trip_id, first.ends_at + timedelta(hours=3))
    plan = read(cast, trip_id)["plan"]
    route = plan["routes"][0]["stops"]
    assert route[0]["name"] == first.boat.candidate.name
    later = [datetime.fromisoformat(stop["starts_at"]) for stop in route[1:]]
    begun = [s for s in stops if s.starts_at <= first.ends_at + timedelta(hours=3)]
    assert len(route) >= len(begun)
    assert all(start >= first.ends_at for start in later)


def test_where_one_starts_matters(cast, boats):
    """The same day from the south begins in the south."""
    south = {"label": "South", "latitude": SOUTH["latitude"], "longitude": SOUTH["longitude"]}
    assert HOME["latitude"] > SOUTH["latitude"]
    parties = [car(cast, start=south, leaves_at="08:00", back_by="10:30")]
    alike = {"value": usd("9.00"), "minutes": 60}
    some = [{"candidate": boats[name], **alike} for name in ("Plover", "Fulmar")]
    plan = planned(cast, post_trip(cast, boats, parties=parties, boats=some).json()["id"])
    assert names(plan) == [["Fulmar"]]
