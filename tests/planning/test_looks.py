"""The duration of a look: the catalogue's minutes for its checks, plus a fixed time."""

from dataclasses import replace

from apps.appraisal.models import ListAppraisal
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.planning.looks import Checks, minutes_for, possible_checks
from apps.planning.models import Trip, TripBoat
from apps.viewings.checklists import checklist_from
from tests.planning.conftest import planned, post_trip, usd


def look_of(cast, boats) -> dict:
    """The only stop of a trip to Plover, without given minutes."""
    boat = {"candidate": boats["Plover"], "value": usd("400.00")}
    trip = post_trip(cast, boats, boats=[boat]).json()["id"]
    (route,) = planned(cast, trip)["routes"]
    return route["stops"][0]


def told(list_id: str, visit: dict) -> None:
    """The list's results with this value of a visit."""
    looks = {"checks": [], "visits": [visit], "questions": [], "by_check": {}}
    ListAppraisal.objects.update_or_create(pk=list_id, defaults={"cost_looks": looks})


def test_it_takes_what_its_checks_take(cast, boats):
    plover = Candidate.objects.select_related("list").get(pk=boats["Plover"])
    snapshot = catalogue_snapshot(plover.list.group_id)
    lying = [checklist_from(snapshot, plover, {"where": w}) for w in ("ashore", "afloat")]
    assert len({found.minutes for found in lying}) == 2, "she does not lie in both"
    longest = max(found.minutes for found in lying)
    assert longest > 0
    assert look_of(cast, boats)["minutes"] == 15 + longest


def test_calls_take_no_time_there(cast, boats):
    plover = Candidate.objects.select_related("list").get(pk=boats["Plover"])
    snapshot = catalogue_snapshot(plover.list.group_id)
    by_yard_visit = {
        c: replace(one, place="ask") for c, one in snapshot.catalogue.checkpoints.items()
    }
    asked = replace(snapshot, catalogue=replace(snapshot.catalogue, checkpoints=by_yard_visit))
    assert checklist_from(asked, plover, {}).minutes == 0
    assert checklist_from(snapshot, plover, {}).minutes > 0


def test_a_visit_that_is_known_says_it_itself(cast, boats, list_id):
    visit = {
        "candidate_id": boats["Plover"],
        "kind": "as_before",
        "hindrances": ["ashore"],
        "checks": 7,
        "minutes": 33,
        "hampered": [],
        "moves": usd("900.00"),
    }
    told(list_id, visit)
    assert look_of(cast, boats)["minutes"] == 15 + 33
    assert TripBoat.objects.get().checks == 7


def test_no_look_takes_longer_than_a_day():
    assert minutes_for(Trip(minutes_per_boat=15), Checks(400, 600)) == 480


def test_of_a_result_that_did_not_know_minutes_the_checklist_tells(cast, boats, list_id):
    plover = Candidate.objects.select_related("list").get(pk=boats["Plover"])
    visit = {
        "candidate_id": boats["Plover"],
        "kind": "as_before",
        "hindrances": [],
        "checks": 7,
        "moves": usd("900.00"),
    }
    told(list_id, visit)
    found = possible_checks(plover)
    assert look_of(cast, boats)["minutes"] == 15 + found.minutes
    assert TripBoat.objects.get().checks == found.checks != 7
