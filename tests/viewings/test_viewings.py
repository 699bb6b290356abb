"""Planning, recording, reading and changing visits."""

import pytest

from apps.events.models import Event
from apps.viewings.conditions import UNDER_WAY
from apps.viewings.models import Viewing
from tests.conftest import pointers
from tests.viewings.conftest import look


def plan(scene, who=None, **changed):
    body = {
        "starts_at": "2025-04-05T09:30:00Z",
        "conditions": {"where": "ashore", "mast_state": "elsewhere", "engine_winterised": True},
        "people": [str(scene.cast.ben.person.id), str(scene.cast.hal.person.id)],
        "note": "Key at the yard's office.",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/viewings", body)


def test_it_works(scene):
    made = plan(scene)
    assert made.status_code == 201, made.content
    assert made.json()["state"] == "planned"
    assert made.json()["conditions"] == {
        "where": "ashore",
        "covered": None,
        "walk_under_cover": None,
        "mast_state": "elsewhere",
        "engine_winterised": True,
        "batteries_connected": None,
        "seller_present": None,
        "weather": None,
        "light": None,
        **dict.fromkeys(UNDER_WAY),
    }
    assert {person["name"] for person in made.json()["people"]} == {"Ben", "Hal"}
    read = scene.cast.ivy.get(f"/viewings/{made.json()['id']}")
    assert read.json() == made.json()
    assert read["ETag"] == made["ETag"]
    event = Event.objects.latest("number")
    assert (event.kind, str(event.thing_id)) == ("viewing.added", made.json()["id"])
    assert event.facts["candidate"] == str(scene.heron.id)


def test_it_changes_only_what_is_sent(scene):
    path = f"/viewings/{plan(scene).json()['id']}"
    changed = scene.cast.hal.change(
        "PATCH", path, {"conditions": {"light": "poor", "mast_state": None}, "people": []}
    )
    assert changed.status_code == 200, changed.content
    conditions = changed.json()["conditions"]
    assert (conditions["light"], conditions["mast_state"]) == ("poor", None)
    assert (conditions["where"], conditions["engine_winterised"]) == ("ashore", True)
    assert changed.json()["people"] == []
    assert changed.json()["note"] == "Key at the yard's office."
    assert changed.json()["version"] == 2


def test_it_lists_by_state(scene):
    plan(scene)
    scene.visit()
    scene.visit(scene.dunlin)
    at = f"/candidates/{scene.heron.id}/viewings"
    states = [row["state"] for row in scene.cast.ivy.get(at).json()["results"]]
    assert states == ["planned", "planned", "made"]
    made = scene.cast.ivy.get(f"{at}?state=made").json()["results"]
    assert [row["state"] for row in made] == ["made"]


def test_it_does_not_exist_for_strangers(scene):
    at = f"/candidates/{scene.heron.id}/viewings"
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert stranger.get(at).status_code == 404
        assert plan(scene, stranger).status_code == 404
        assert stranger.get(f"/viewings/{scene.viewing.id}").status_code == 404
        assert stranger.patch(f"/viewings/{scene.viewing.id}", {"note": "x"}).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401
    assert Viewing.objects.count() == 1


def test_observer_may_not_plan(scene):
    refused = plan(scene, scene.cast.ivy)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "helper", "organiser"]
    at = f"/viewings/{scene.viewing.id}"
    assert scene.cast.ivy.change("PATCH", at, {"note": "x"}).status_code == 403


def test_stale_and_missing_versions(scene):
    path = f"/viewings/{scene.viewing.id}"
    seen = scene.cast.ben.get(path)["ETag"]
    assert scene.cast.ben.patch(path, {"note": "first"}, If_Match=seen).status_code == 200
    assert scene.cast.hal.patch(path, {"note": "late"}, If_Match=seen).status_code == 412
    assert scene.cast.hal.patch(path, {"note": "blind"}).status_code == 428
    scene.viewing.refresh_from_db()
    assert scene.viewing.note == "first"


def test_a_repeat_is_answered_once(scene, fresh_id):
    body = {"id": str(fresh_id), "starts_at": "2025-04-05T09:30:00Z"}
    at = f"/candidates/{scene.heron.id}/viewings"
    first = scene.cast.ben.post(at, body, Idempotency_Key="k")
    again = scene.cast.ben.post(at, body, Idempotency_Key="k")
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()
    assert scene.cast.bea.post(at, body).status_code == 409
    assert Viewing.objects.filter(candidate=scene.heron).count() == 2


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"starts_at": "tomorrow"}, "/starts_at"),
        ({"state": "perhaps"}, "/state"),
        ({"conditions": {"where": "aloft"}}, "/conditions/where"),
        ({"conditions": {"covered": "a bit"}}, "/conditions/covered"),
        ({"conditions": {"wheather": "wet"}}, "/conditions/wheather"),
        ({"people": ["nobody"]}, "/people/0"),
        ({"notes": "misspelt"}, "/notes"),
    ],
)
def test_bad_fields_are_named(scene, changed, at):
    assert pointers(plan(scene, **changed)) == {at}


def test_only_members_go(scene):
    ben, wim = scene.cast.ben.person.id, scene.cast.wim.person.id
    assert pointers(plan(scene, people=[ben, wim])) == {"/people/1"}
    refused = scene.cast.ben.change("PATCH", f"/viewings/{scene.viewing.id}", {"people": [wim]})
    assert pointers(refused) == {"/people/0"}


def test_what_findings_were_made_in_stays_on_record(scene):
    scene.posted(scene.cast.ben, look("joint", 1))
    path = f"/viewings/{scene.viewing.id}"
    refused = scene.cast.ben.change(
        "PATCH",
        path,
        {
            "starts_at": "2025-01-01T10:00:00Z",
            "state": "called_off",
            "conditions": {"covered": False},
        },
    )
    assert pointers(refused) == {"/starts_at", "/state", "/conditions/covered"}
    before = scene.revision()
    # A condition that nobody gave can still be given, and results depend on it.
    filled = scene.cast.ben.change(
        "PATCH", path, {"conditions": {"covered": True, "light": "poor"}, "note": "It rained."}
    )
    assert filled.status_code == 200, filled.content
    assert filled.json()["conditions"]["light"] == "poor"
    assert scene.revision() == before + 1


def test_a_plan_alone_changes_no_result(scene):
    before = scene.revision()
    path = f"/viewings/{plan(scene).json()['id']}"
    scene.cast.ben.change("PATCH", path, {"conditions": {"where": "afloat"}})
    assert scene.revision() == before


def test_constant_queries(scene, django_assert_num_queries):
    ivy, at = scene.cast.ivy, f"/candidates/{scene.heron.id}/viewings"
    plan(scene)
    ivy.get(at)  # a token's first use is noted
    # token, candidate, page of viewings, people
    with django_assert_num_queries(4):
        assert len(ivy.get(at).json()["results"]) == 2
    for _ in range(6):
        plan(scene)
    with django_assert_num_queries(4):
        assert len(ivy.get(at).json()["results"]) == 8
