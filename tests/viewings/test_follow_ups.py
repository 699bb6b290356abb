"""Questions to settle about a candidate."""

import pytest
from django.conf import settings
from django.utils import timezone

from apps.catalogue.reading import read_catalogue
from apps.viewings.models import FollowUp
from tests.conftest import pointers

CATALOGUE = settings.BASE_DIR / "fixtures" / "catalogue"


def ask(scene, who=None, **changed):
    body = {
        "question": "When was the keel last off?",
        "asked_of": "seller",
        "checkpoint": "joint",
        "assignee": str(scene.cast.hal.person.id),
        "due_on": "2025-04-01",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/follow-ups", body)


@pytest.fixture
def at(scene):
    return f"/follow-ups/{ask(scene).json()['id']}"


def test_it_works(scene):
    made = ask(scene)
    assert made.status_code == 201, made.content
    assert (made.json()["state"], made.json()["assignee"]["name"]) == ("open", "Hal")
    at = f"/follow-ups/{made.json()['id']}"
    answered = scene.cast.hal.change(
        "PATCH",
        at,
        {"state": "answered", "answer": "In 2019.", "changed": "Asked for the invoice."},
    )
    assert answered.status_code == 200, answered.content
    assert (answered.json()["answer"], answered.json()["version"]) == ("In 2019.", 2)
    assert answered.json()["question"] == "When was the keel last off?"
    assert scene.cast.ivy.get(at).json() == answered.json()


@pytest.mark.parametrize(
    "asked_of",
    ["broker", "surveyor", "engine_mechanic", "electrician", "gas_fitter", "insurer", "sailmaker"],
)
def test_whoever_may_know_can_be_asked(scene, asked_of):
    made = ask(scene, asked_of=asked_of)
    assert made.status_code == 201, made.content
    assert made.json()["asked_of"] == asked_of


def test_every_professional_of_the_catalogue_can_be_asked():
    """Each trade has one name: a question can go to any professional who judges doubts."""
    codes = {code.replace("_", " ") for code in FollowUp.AskedOf.values}
    checkpoints = read_catalogue(CATALOGUE).checkpoints.values()
    assert {one.professional for one in checkpoints} - {""} <= codes


def test_it_lists_by_state_and_assignee(scene, at):
    ask(scene, assignee=None, asked_of="yard", checkpoint=None)
    listing = f"/candidates/{scene.heron.id}/follow-ups"
    assert len(scene.cast.ivy.get(listing).json()["results"]) == 2
    hals = scene.cast.ivy.get(f"{listing}?assignee={scene.cast.hal.person.id}").json()["results"]
    assert [row["asked_of"] for row in hals] == ["seller"]
    scene.cast.hal.change("PATCH", at, {"state": "dropped"})
    still_open = scene.cast.ivy.get(f"{listing}?state=open").json()["results"]
    assert [row["asked_of"] for row in still_open] == ["yard"]


def test_it_does_not_exist_for_strangers(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert ask(scene, stranger).status_code == 404
        assert stranger.get(at).status_code == 404
        assert stranger.get(f"/candidates/{scene.heron.id}/follow-ups").status_code == 404
        assert stranger.patch(at, {"answer": "x"}).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_observer_may_not_ask(scene, at):
    assert ask(scene, scene.cast.ivy).status_code == 403
    refused = scene.cast.ivy.change("PATCH", at, {"state": "dropped"})
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "helper", "organiser"]


def test_stale_and_missing_versions(scene, at):
    seen = scene.cast.ben.get(at)["ETag"]
    assert scene.cast.ben.patch(at, {"due_on": None}, If_Match=seen).status_code == 200
    assert scene.cast.hal.patch(at, {"state": "dropped"}, If_Match=seen).status_code == 412
    assert scene.cast.hal.patch(at, {"state": "dropped"}).status_code == 428
    assert FollowUp.objects.get().state == "open"


def test_a_repeat_is_answered_once(scene, fresh_id):
    body = {"id": str(fresh_id), "question": "Why?", "asked_of": "yard"}
    listing = f"/candidates/{scene.heron.id}/follow-ups"
    first = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    again = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    assert again.json() == first.json()
    assert scene.cast.ben.post(listing, body).status_code == 409
    assert FollowUp.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"question": ""}, "/question"),
        ({"asked_of": "oracle"}, "/asked_of"),
        ({"checkpoint": "bowsprit"}, "/checkpoint"),
        ({"assignee": "01920000-0000-7000-8000-000000000000"}, "/assignee"),
        ({"due_on": "soon"}, "/due_on"),
        ({"state": "open"}, "/state"),
    ],
)
def test_bad_fields_are_named(scene, changed, pointer):
    assert pointers(ask(scene, **changed)) == {pointer}


def test_answered_means_with_an_answer(scene, at):
    assert pointers(scene.cast.hal.change("PATCH", at, {"state": "answered"})) == {"/answer"}
    scene.cast.hal.change("PATCH", at, {"state": "answered", "answer": "Never."})
    assert pointers(scene.cast.hal.change("PATCH", at, {"answer": ""})) == {"/answer"}


def test_it_is_handed_on_to_members_only(scene, at):
    wim = str(scene.cast.wim.person.id)
    assert pointers(scene.cast.hal.change("PATCH", at, {"assignee": wim})) == {"/assignee"}
    bea = str(scene.cast.bea.person.id)
    handed_on = scene.cast.hal.change("PATCH", at, {"assignee": bea})
    assert handed_on.json()["assignee"]["name"] == "Bea"


def test_it_is_settled_though_its_assignee_left(scene, at):
    gone = scene.cast.membership(scene.cast.hal)
    gone.ended_at = timezone.now()
    gone.save()
    settled = scene.cast.ben.change("PATCH", at, {"state": "answered", "answer": "Never."})
    assert settled.status_code == 200, settled.content


def test_constant_queries(scene, at, django_assert_num_queries):
    listing = f"/candidates/{scene.heron.id}/follow-ups"
    scene.cast.ivy.get(listing)  # a token's first use is noted
    # token, candidate, page
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    for _ in range(6):
        ask(scene)
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 7
