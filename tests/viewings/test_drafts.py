"""Drafts: visible to their author only, replaced as a whole, submitted, deleted."""

import pytest

from apps.events.models import Event
from apps.viewings.models import Submission
from tests.conftest import pointers
from tests.viewings.conftest import could_not, look


@pytest.fixture
def draft(scene):
    return scene.posted(scene.cast.ben, look("joint", 2), state="draft", note="half done")


@pytest.fixture
def at(draft):
    return f"/submissions/{draft['id']}"


def test_it_works(scene, draft, at):
    before = scene.revision()
    assert (draft["state"], draft["submitted_at"]) == ("draft", None)
    replaced = scene.cast.ben.change(
        "PUT", at, {"findings": [look("iron", 1), could_not("joint", "growth")], "minutes": 20}
    )
    assert replaced.status_code == 200, replaced.content
    said = replaced.json()
    assert [finding["checkpoint"] for finding in said["findings"]] == ["iron", "joint"]
    assert (said["note"], said["minutes"], said["version"]) == ("", 20, 2)
    assert scene.revision() == before, "a draft is nobody's input"
    submitted = scene.cast.ben.change(
        "PUT", at, {"state": "submitted", "findings": [look("iron", 1)]}
    )
    assert submitted.status_code == 200, submitted.content
    assert (submitted.json()["state"], submitted.json()["version"]) == ("submitted", 3)
    assert scene.revision() == before + 1
    assert scene.cast.ivy.get(at).status_code == 200


def test_others_do_not_see_it(scene, draft, at):
    for other in (scene.cast.ola, scene.cast.bea, scene.cast.ivy, scene.cast.sten):
        assert other.get(at).status_code == 404
        assert other.put(at, {"findings": []}, If_Match="*").status_code == 404
        assert other.delete(at, If_Match="*").status_code == 404
    for listing in (
        f"/viewings/{scene.viewing.id}/submissions",
        f"/candidates/{scene.heron.id}/submissions",
    ):
        assert scene.cast.ola.get(listing).json()["results"] == []
        assert [row["id"] for row in scene.cast.ben.get(listing).json()["results"]] == [draft["id"]]
    live = f"/candidates/{scene.heron.id}/submissions?live=true"
    assert scene.cast.ben.get(live).json()["results"] == []


def test_only_its_author_is_told(scene, draft, at):
    scene.cast.ben.change("PUT", at, {"findings": []})
    scene.cast.ben.change("DELETE", at)
    events = list(Event.objects.order_by("number"))
    assert [event.kind for event in events] == [
        "submission.drafted",
        "submission.draft_changed",
        "submission.discarded",
    ]
    assert {event.only_for for event in events} == {scene.cast.ben.person.id}
    assert [event.deleted for event in events] == [False, False, True]


def test_it_can_be_thrown_away(scene, at):
    assert scene.cast.ben.change("DELETE", at).status_code == 204
    assert scene.cast.ben.get(at).status_code == 404
    assert not Submission.objects.exists()


def test_stale_and_missing_versions(scene, at):
    seen = scene.cast.ben.get(at)["ETag"]
    assert scene.cast.ben.put(at, {"note": "first"}, If_Match=seen).status_code == 200
    assert scene.cast.ben.put(at, {"note": "late"}, If_Match=seen).status_code == 412
    assert scene.cast.ben.put(at, {"note": "blind"}).status_code == 428
    assert scene.cast.ben.delete(at, If_Match=seen).status_code == 412
    assert scene.cast.ben.delete(at).status_code == 428
    assert Submission.objects.get().note == "first"


def test_a_refused_change_leaves_it_as_it_was(scene, draft, at):
    refused = scene.cast.ben.change(
        "PUT", at, {"state": "submitted", "findings": [look("iron", 1), look("keep", 1)]}
    )
    assert pointers(refused) == {"/findings/1/checkpoint"}
    assert scene.cast.ben.get(at).json() == draft


def test_submitted_never_changes(scene, at):
    done = {"state": "submitted", "findings": [look("joint", 2)]}
    scene.cast.ben.change("PUT", at, done)
    as_it_was = scene.cast.ben.get(at).json()
    for method, body in (("PUT", {**done, "note": "again"}), ("DELETE", None)):
        for who in (scene.cast.ben, scene.cast.bea):
            refused = who.change(method, at, body)
            assert refused.status_code == 409
            assert refused.json()["code"] == "submitted"
        assert scene.cast.ivy.change(method, at, body).status_code == 403
    assert scene.cast.ben.get(at).json() == as_it_was
