"""Adding, reading and changing a trip."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.groups.models import Club
from apps.planning.models import Trip, TripBoat, TripParty
from tests.boats.conftest import events, queries_of
from tests.conftest import pointers
from tests.planning.conftest import (
    DAY,
    car,
    planned,
    post_trip,
    read,
    replanned,
    trip_body,
    usd,
)


def test_it_works(cast, boats):
    made = post_trip(cast, boats, note="Bring boots")
    assert made.status_code == 201, made.content
    trip = made.json()
    again = cast.ivy.get(f"/trips/{trip['id']}")
    assert again["ETag"] == made["ETag"]
    assert again.json() == trip
    assert trip["group"] == str(cast.group.id)
    assert (trip["club"], trip["made_by"]["name"], trip["note"]) == (None, "Ben", "Bring boots")
    (party,) = trip["parties"]
    assert {person["name"] for person in party["people"]} == {"Ben", "Bea"}
    assert party["start"] == {"label": "Home", "latitude": 54.32, "longitude": 10.13}
    assert (party["leaves_at"], party["back_by"], party["most_km"]) == ("08:00", "17:00", None)
    assert [boat["name"] for boat in trip["boats"]] == ["Plover", "Skua", "Fulmar", "Petrel"]
    assert trip["boats"][0]["value"] == usd("400.00")
    assert (trip["speed_kmh"], trip["road_factor"]) == (60, 1.3)
    assert trip["minutes_per_boat"] == 15
    assert trip["plan"]["outcome"] == "none"
    assert trip["plan"]["routes"] == []
    assert any("alone" in caution for caution in trip["plan"]["cautions"])
    assert "not a survey" in trip["plan"]["caution"]
    assert events(cast.group.id)[-1] == "trip.added"


def test_without_boats_it_is_all_that_are_still_looked_at(cast, boats):
    struck = {"stage": "struck_off", "reason": "Too far off"}
    cast.ben.post(f"/candidates/{boats['Skua']}/stage-changes", struck)
    body = trip_body(cast, boats)
    del body["boats"]
    made = cast.hal.post(f"/groups/{cast.group.id}/trips", body).json()
    assert [boat["name"] for boat in made["boats"]] == ["Plover", "Fulmar", "Petrel"]
    assert {boat["value"] for boat in made["boats"]} == {None}


def test_where_nobody_is_named_whoever_makes_it_goes(cast, boats):
    body = trip_body(cast, boats)
    body["parties"] = [{**car(cast), "people": []}, {**car(cast), "people": []}]
    made = cast.hal.post(f"/groups/{cast.group.id}/trips", body).json()
    going = [[person["name"] for person in party["people"]] for party in made["parties"]]
    assert going == [["Hal"], []]


def test_it_does_not_exist_for_strangers(cast, boats, trip_id):
    planned(cast, trip_id)
    for stranger in (cast.sten, cast.wim):
        for path in ("", "/plan.geojson", "/plan.ics"):
            assert stranger.get(f"/trips/{trip_id}{path}").status_code == 404
        assert stranger.get(f"/groups/{cast.group.id}/trips").status_code == 404
        assert stranger.post(f"/trips/{trip_id}/plans").status_code == 404
        assert stranger.post(f"/trips/{trip_id}/viewings").status_code == 404
        changed = stranger.send("PATCH", f"/trips/{trip_id}", {"name": "Ours"}, If_Match="*")
        assert changed.status_code == 404
        body = trip_body(cast, boats)
        assert stranger.post(f"/groups/{cast.group.id}/trips", body).status_code == 404
    assert Trip.objects.get().name == "Round the estuary"


def test_an_observer_reads_and_changes_nothing(cast, boats, trip_id):
    planned(cast, trip_id)
    assert cast.ivy.get(f"/trips/{trip_id}").status_code == 200
    refused = post_trip(cast, boats, who="ivy")
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "helper", "organiser"]
    assert cast.ivy.change("PATCH", f"/trips/{trip_id}", {"name": "Ours"}).status_code == 403
    assert cast.ivy.post(f"/trips/{trip_id}/plans").status_code == 403
    assert cast.ivy.post(f"/trips/{trip_id}/viewings").status_code == 403


def test_another_groups_boat_is_none(cast, boats, yards):
    path = f"/groups/{cast.other_group.id}/lists"
    brief = {"currency": "USD", "budget": usd("60000.00")}
    theirs = cast.wim.post(path, {"name": "Ours", "brief": brief}).json()["id"]
    foreign = cast.wim.post(f"/lists/{theirs}/candidates", {"name": "Curlew"}).json()["id"]
    refused = post_trip(cast, boats, boats=[{"candidate": foreign}])
    assert pointers(refused) == {"/boats/0/candidate"}
    assert not Trip.objects.exists()


def test_a_repeat_is_answered_once(cast, boats, fresh_id):
    path, body = f"/groups/{cast.group.id}/trips", trip_body(cast, boats, id=str(fresh_id))
    first = cast.ben.post(path, body, Idempotency_Key="k1")
    again = cast.ben.post(path, body, Idempotency_Key="k1")
    assert again.json() == first.json()
    assert again["Idempotent-Replay"] == "true"
    assert first.json()["id"] == str(fresh_id)
    assert cast.ben.post(path, body).status_code == 409
    assert Trip.objects.count() == 1


def party(cast, **said):
    return {"parties": [car(cast, **said)]}


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"name": ""}, "/name"),
        ({"day": "2020-01-01"}, "/day"),
        ({"day": "soon"}, "/day"),
        ({"time_zone": "Atlantis"}, "/time_zone"),
        ({"currency": "ZZZ"}, "/currency"),
        ({"speed_kmh": 500}, "/speed_kmh"),
        ({"road_factor": 0.5}, "/road_factor"),
        ({"minutes_per_boat": 0}, "/minutes_per_boat"),
        ({"parties": []}, "/parties"),
        ({"colour": "blue"}, "/colour"),
        ({"boats": [{"candidate": "x"}]}, "/boats/0/candidate"),
    ],
)
def test_bad_input(cast, boats, wrong, at):
    assert pointers(post_trip(cast, boats, **wrong)) == {at}
    assert not Trip.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"label": ""}, "label"),
        ({"start": {"latitude": 54.0}}, "start/longitude"),
        ({"start": {"latitude": 91.0, "longitude": 0}}, "start/latitude"),
        ({"leaves_at": "25:00"}, "leaves_at"),
        ({"back_by": "08:00"}, "back_by"),
        ({"most_km": -1}, "most_km"),
    ],
)
def test_bad_parties(cast, boats, wrong, at):
    assert pointers(post_trip(cast, boats, **party(cast, **wrong))) == {f"/parties/0/{at}"}


def test_who_goes_belongs_to_the_group_and_goes_once(cast, boats):
    assert pointers(post_trip(cast, boats, parties=[car(cast, "ben", "wim")])) == {
        "/parties/0/people/1"
    }
    twice = [car(cast, "ben"), car(cast, "bea", "ben")]
    assert pointers(post_trip(cast, boats, parties=twice)) == {"/parties/1/people/1"}


def test_a_boat_is_named_once_and_its_value_is_in_the_trips_currency(cast, boats):
    plover = {"candidate": boats["Plover"]}
    assert pointers(post_trip(cast, boats, boats=[plover, plover])) == {"/boats/1/candidate"}
    euros = {**plover, "value": {"amount": "5.00", "currency": "EUR"}}
    assert pointers(post_trip(cast, boats, boats=[euros])) == {"/boats/0/value/currency"}


# --- Changing ------------------------------------------------------------------------------------


def change(cast, trip_id, body, who="ben"):
    return getattr(cast, who).change("PATCH", f"/trips/{trip_id}", body)


def test_a_change_needs_the_version_it_is_made_from(cast, trip_id):
    path = f"/trips/{trip_id}"
    etag = cast.ben.get(path)["ETag"]
    changed = cast.hal.patch(path, {"name": "Over the bar"}, If_Match=etag)
    assert changed.status_code == 200, changed.content
    assert changed.json()["name"] == "Over the bar"
    assert cast.ben.patch(path, {"name": "Late"}, If_Match=etag).status_code == 412
    assert cast.ben.patch(path, {"name": "Late"}).status_code == 428
    assert events(cast.group.id)[-1] == "trip.changed"


def test_a_new_plan_does_not_outdate_what_somebody_is_editing(cast, trip_id):
    path = f"/trips/{trip_id}"
    cast.ben.post(f"{path}/plans")
    before = cast.ben.get(path)["ETag"]
    planned(cast, trip_id)
    now = cast.ben.get(path)["ETag"]
    assert before != now, "nobody keeps the plan of before"
    cast.ben.post(f"{path}/plans")
    held = cast.ben.get(path)["ETag"]
    from apps.planning.jobs import trip_plan

    trip_plan(trip_id=trip_id)
    assert cast.ben.patch(path, {"note": "Boots"}, If_Match=held).status_code == 200


def test_parties_are_replaced_as_a_whole(cast, trip_id):
    (own,) = read(cast, trip_id)["parties"]
    second = car(cast, "hal", label="Hal's van")
    changed = change(cast, trip_id, {"parties": [{**car(cast, "ben"), "id": own["id"]}, second]})
    assert changed.status_code == 200, changed.content
    parties = changed.json()["parties"]
    assert [one["label"] for one in parties] == ["Ben's car", "Hal's van"]
    assert parties[0]["id"] == own["id"]
    assert [person["name"] for person in parties[0]["people"]] == ["Ben"]
    only = change(cast, trip_id, {"parties": [second]})
    assert [one["label"] for one in only.json()["parties"]] == ["Hal's van"]
    assert TripParty.objects.count() == 1
    unknown = {**second, "id": own["id"]}
    assert pointers(change(cast, trip_id, {"parties": [unknown]})) == {"/parties/0/id"}


def test_boats_are_replaced_as_a_whole(cast, boats, trip_id):
    few = [{"candidate": boats["Skua"]}, {"candidate": boats["Petrel"], "value": usd("9.00")}]
    changed = change(cast, trip_id, {"boats": few}).json()
    assert [(boat["name"], boat["value"]) for boat in changed["boats"]] == [
        ("Skua", None),
        ("Petrel", usd("9.00")),
    ]
    assert TripBoat.objects.count() == 2


def test_values_stated_in_one_currency_are_not_taken_for_another(cast, boats, trip_id):
    refused = change(cast, trip_id, {"currency": "EUR"})
    assert pointers(refused) == {"/currency"}
    euros = [{"candidate": boats["Skua"], "value": {"amount": "5.00", "currency": "EUR"}}]
    changed = change(cast, trip_id, {"currency": "EUR", "boats": euros})
    assert changed.status_code == 200, changed.content
    assert [boat["value"] for boat in changed.json()["boats"]] == [
        {"amount": "5.00", "currency": "EUR"}
    ]
    unsaid = [{"candidate": boats["Skua"]}]
    assert change(cast, trip_id, {"boats": unsaid}).status_code == 200
    assert change(cast, trip_id, {"currency": "USD"}).status_code == 200


def test_a_boat_that_fell_out_keeps_no_value_in_another_currency(cast, boats, trip_id):
    planned(cast, trip_id)
    euros = [{"candidate": boats["Skua"], "value": {"amount": "5.00", "currency": "EUR"}}]
    assert change(cast, trip_id, {"currency": "EUR", "boats": euros}).status_code == 200
    now = read(cast, trip_id)
    assert (now["plan"]["value"], now["plan"]["fresh"]) == (None, False)
    rest = {boat["name"]: boat["value"] for boat in now["boats"]}
    assert rest == {
        "Plover": None,
        "Skua": {"amount": "5.00", "currency": "EUR"},
        "Fulmar": None,
        "Petrel": None,
    }
    assert replanned(cast, trip_id)["value"] == {"amount": "5.00", "currency": "EUR"}


def test_a_day_that_is_over_is_refused_only_when_it_is_new(cast, trip_id):
    Trip.objects.update(day=timezone.now().date() - timedelta(days=5))
    assert change(cast, trip_id, {"note": "It rained"}).status_code == 200
    assert pointers(change(cast, trip_id, {"day": "2020-01-01"})) == {"/day"}


# --- Lists and the database ----------------------------------------------------------------------


def test_trips_of_the_group(cast, boats, trip_id):
    (row,) = cast.ivy.get(f"/groups/{cast.group.id}/trips").json()["results"]
    assert (row["id"], row["day"], row["outcome"]) == (trip_id, str(DAY), "none")


def test_many_trips_take_no_more_queries_than_one(cast, boats, trip_id):
    path = f"/groups/{cast.group.id}/trips"
    one = queries_of(lambda: cast.ivy.get(path))
    for _ in range(5):
        post_trip(cast, boats)
    assert queries_of(lambda: cast.ivy.get(path)) == one


def test_many_boats_and_stops_take_no_more_queries_than_one(cast, boats):
    few = post_trip(cast, boats, boats=[{"candidate": boats["Plover"], "value": usd("5.00")}])
    many = post_trip(cast, boats, parties=[car(cast, "ben"), car(cast, "bea")])
    ids = [made.json()["id"] for made in (few, many)]
    for one in ids:
        planned(cast, one)
    counts = [queries_of(lambda one=one: cast.ivy.get(f"/trips/{one}")) for one in ids]
    assert counts[0] == counts[1]


@pytest.mark.parametrize("owners", [[], ["club", "group"]])
def test_the_database_wants_exactly_one_owner(cast, owners):
    whose = {"club": Club.objects.create(name="Estuary"), "group": cast.group}
    with pytest.raises(IntegrityError), transaction.atomic():
        Trip.objects.create(
            name="x",
            day=DAY,
            time_zone="UTC",
            currency="USD",
            made_by=cast.ben.person,
            **{name: whose[name] for name in owners},
        )
