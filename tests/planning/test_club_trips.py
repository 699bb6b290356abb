"""A trip of a club's member: boats of their own groups and those taken on at the club.

Abe advises the club, has a boat of his own group and took on Heron of the Tern group; Amy goes
along and may look at neither.
"""

import pytest

from apps.boats.models import Candidate
from apps.planning.jobs import trip_plan
from apps.planning.models import Trip, TripStop
from apps.viewings.models import Viewing
from tests.conftest import pointers
from tests.planning.conftest import DAY, HOME
from tests.second_opinions.conftest import asking  # noqa: F401
from tests.viewings.conftest import scene  # noqa: F401


def body(asking, *parties, **said):  # noqa: F811
    cars = [
        {
            "label": f"{names[0].person.name}'s car",
            "people": [str(who.person.id) for who in names],
            "start": HOME,
            "leaves_at": "08:00",
            "back_by": "18:00",
        }
        for names in parties or [(asking.abe, asking.amy)]
    ]
    boats = [
        {"candidate": str(asking.scene.heron.pk), "value": {"amount": "50.00", "currency": "EUR"}}
    ]
    return {
        "name": "Two at the quay",
        "day": str(DAY),
        "time_zone": "Europe/Berlin",
        "currency": "EUR",
        "parties": cars,
        "boats": boats,
        **said,
    }


def post(asking, *parties, who=None, **said):  # noqa: F811
    at = f"/clubs/{asking.club.id}/trips"
    return (who or asking.abe).post(at, body(asking, *parties, **said))


@pytest.fixture
def assignment(asking):  # noqa: F811
    return asking.taken()


def planned_by(who, trip_id):
    assert who.post(f"/trips/{trip_id}/plans").status_code == 202
    trip_plan(trip_id=trip_id)
    return who.get(f"/trips/{trip_id}").json()


def test_it_works(asking, assignment):  # noqa: F811
    made = post(asking)
    assert made.status_code == 201, made.content
    trip = planned_by(asking.abe, made.json()["id"])
    assert (trip["club"], trip["group"]) == (str(asking.club.id), None)
    ((stop,),) = [route["stops"] for route in trip["plan"]["routes"]]
    assert stop["name"] == "Heron"
    (row,) = asking.abe.get(f"/clubs/{asking.club.id}/trips").json()["results"]
    assert row["id"] == trip["id"]


def test_only_boats_that_one_may_look_at(asking):  # noqa: F811
    assert pointers(post(asking)) == {"/boats/0/candidate"}
    assert not Trip.objects.exists()


def test_without_boats_it_is_all_that_one_may_look_at(asking, assignment):  # noqa: F811
    asking.another_group("Plover", asking.abe)
    said = body(asking)
    del said["boats"]
    trip = asking.abe.post(f"/clubs/{asking.club.id}/trips", said).json()
    assert {boat["name"] for boat in trip["boats"]} == {"Heron", "Plover's boat"}


def test_whoever_goes_along_is_not_told_which_boat(asking, assignment):  # noqa: F811
    trip_id = post(asking).json()["id"]
    planned_by(asking.abe, trip_id)
    seen = asking.amy.get(f"/trips/{trip_id}")
    assert seen.status_code == 200
    assert (seen.json()["boats"], seen.json()["hidden_boats"]) == ([], 1)
    ((stop,),) = [route["stops"] for route in seen.json()["plan"]["routes"]]
    assert {stop[name] for name in ("candidate", "name", "place", "value", "viewing")} == {None}
    said = b"".join(
        asking.amy.get(f"/trips/{trip_id}{form}").content
        for form in ("", "/plan.geojson", "/plan.ics")
    )
    for word in ("Heron", str(asking.scene.heron.pk), asking.yard.name, "54.123"):
        assert word.encode() not in said
    assert asking.amy.change("PATCH", f"/trips/{trip_id}", {"name": "Mine"}).status_code == 403


def test_only_who_made_it_changes_it_and_is_told_so_first(asking, assignment):  # noqa: F811
    """Whatever else is wrong in the body."""
    path = f"/trips/{post(asking).json()['id']}"
    for answer in (
        asking.amy.patch(path, {"nonsense": 1}),
        asking.amy.patch(path, {"name": "Mine"}, If_Match='"another"'),
        asking.amy.post(f"{path}/plans", {"nonsense": 1}),
        asking.amy.post(f"{path}/viewings", []),
    ):
        assert (answer.status_code, answer.json()["code"]) == (403, "not_allowed")
    for answer in (asking.mo.patch(path, {}), asking.mo.post(f"{path}/plans")):
        assert answer.status_code == 404  # of the club, and not on the trip


def test_another_car_does_not_tell_where_it_stops(asking, assignment):  # noqa: F811
    """The distances to and from it are hidden too: two of them would reveal the place."""
    trip_id = post(asking, [asking.abe], [asking.amy]).json()["id"]
    assert planned_by(asking.abe, trip_id)["plan"]["routes"][0]["km"] > 0
    seen = asking.amy.get(f"/trips/{trip_id}").json()
    assert (seen["hidden_boats"], seen["plan"]["routes"]) == (1, [])


def test_the_way_on_from_a_hidden_stop_is_hidden_too(asking, assignment, monkeypatch):  # noqa: F811
    asking.another_group("Plover", asking.abe)
    said = body(asking, [asking.abe], [asking.amy])
    value = said["boats"][0]["value"]
    Candidate.objects.filter(name="Plover's boat").update(at_yard=asking.yard)
    own = Candidate.objects.get(name="Plover's boat")
    said["boats"].append({"candidate": str(own.pk), "value": value})
    trip_id = asking.abe.post(f"/clubs/{asking.club.id}/trips", said).json()["id"]
    planned_by(asking.abe, trip_id)
    stops = TripStop.objects.select_related("boat").order_by("position")
    assert len(stops) == 2
    last = stops[1].boat.candidate_id
    monkeypatch.setattr("apps.planning.selectors.open_among", lambda _, __: frozenset({last}))
    (route,) = asking.amy.get(f"/trips/{trip_id}").json()["plan"]["routes"]
    (stop,) = route["stops"]
    assert (stop["candidate"], stop["position"]) == (str(last), 2)
    assert (route["km"], stop["km"], stop["drive_minutes"]) == (None, None, None)
    (start, point) = asking.amy.get(f"/trips/{trip_id}/plan.geojson").json()["features"]
    assert (start["properties"]["kind"], point["properties"]["kind"]) == ("start", "stop")
    assert b"to get there" not in asking.amy.get(f"/trips/{trip_id}/plan.ics").content
    # Whoever goes in that car drives there.
    (route,) = asking.abe.get(f"/trips/{trip_id}").json()["plan"]["routes"]
    assert [stop["candidate"] for stop in route["stops"]] == [None, str(last)]
    assert route["km"] > 0


def test_for_others_it_does_not_exist(asking, assignment):  # noqa: F811
    trip_id = post(asking, [asking.abe]).json()["id"]
    for other in (asking.amy, asking.sef, asking.mo, asking.cast.ben, asking.cast.sten):
        assert other.get(f"/trips/{trip_id}").status_code == 404
        assert other.post(f"/trips/{trip_id}/plans").status_code == 404
    assert asking.sef.get(f"/clubs/{asking.club.id}/trips").json()["results"] == []
    assert asking.cast.sten.get(f"/clubs/{asking.club.id}/trips").status_code == 404


def test_a_boat_goes_to_whoever_may_look_at_her(asking, assignment):  # noqa: F811
    trip = planned_by(asking.abe, post(asking, [asking.amy], [asking.abe]).json()["id"])
    (route,) = trip["plan"]["routes"]
    assert route["label"] == "Abe's car"
    without = planned_by(asking.abe, post(asking, [asking.amy]).json()["id"])
    assert [row["why"] for row in without["plan"]["left_out"]] == ["nobody_may"]


@pytest.mark.parametrize("ending", ["handed back", "the group left the club"])
def test_when_the_access_ends_she_falls_out_and_is_not_shown(asking, assignment, ending):  # noqa: F811
    trip_id = post(asking).json()["id"]
    planned_by(asking.abe, trip_id)
    if ending == "handed back":
        ended = asking.abe.post(f"{assignment}/hand-backs", {"reason": "No time"})
    else:
        ended = asking.cast.ola.change("DELETE", f"/groups/{asking.cast.group.pk}/club")
    assert ended.status_code < 300, ended.content
    seen = asking.abe.get(f"/trips/{trip_id}").json()
    assert (seen["boats"], seen["hidden_boats"]) == ([], 1)
    assert Trip.objects.get().stale
    trip_plan(trip_id=trip_id)
    assert asking.abe.get(f"/trips/{trip_id}").json()["plan"]["routes"] == []
    assert not TripStop.objects.filter(dropped=False).exists()


def test_a_stop_at_a_boat_taken_on_becomes_the_takes_visit(asking, assignment):  # noqa: F811
    trip_id = post(asking).json()["id"]
    planned_by(asking.abe, trip_id)
    before = Viewing.objects.count()
    agreed = asking.abe.post(f"/trips/{trip_id}/viewings", {"boats": [str(asking.scene.heron.pk)]})
    assert agreed.status_code == 201, agreed.content
    ((stop,),) = [route["stops"] for route in agreed.json()["plan"]["routes"]]
    assert stop["state"] == "agreed"
    assert Viewing.objects.count() == before + 1
    assert asking.abe.get(f"{assignment}/visit").json()["starts_at"] == stop["starts_at"]


def test_who_leaves_the_club_is_out_of_its_trips(asking, assignment):  # noqa: F811
    trip_id = post(asking).json()["id"]
    alone = post(asking, [asking.abe], [asking.amy]).json()["id"]
    planned_by(asking.abe, trip_id)
    membership = asking.club.memberships.get(person=asking.amy.person)
    left = asking.amy.change("DELETE", f"/club-members/{membership.pk}")
    assert left.status_code == 204, left.content
    for trip in (trip_id, alone):
        (party,) = asking.abe.get(f"/trips/{trip}").json()["parties"]
        assert [person["name"] for person in party["people"]] == ["Abe"]
    assert Trip.objects.get(pk=trip_id).stale
