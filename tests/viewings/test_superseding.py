"""Corrections: a new submission takes the place of an own earlier one."""

from uuid import uuid4

import pytest

from apps.events.models import Event
from tests.conftest import pointers
from tests.viewings.conftest import look


@pytest.fixture
def first(scene):
    return scene.posted(scene.cast.ben, look("joint", 3))


def test_it_works(scene, first):
    etag = scene.cast.bea.get(f"/submissions/{first['id']}")["ETag"]
    # Another visit will do, if it was to the same boat.
    second = scene.posted(
        scene.cast.ben, look("joint", 1), supersedes=first["id"], viewing=scene.visit()
    )
    assert second["supersedes"] == first["id"]
    now = scene.cast.bea.get(f"/submissions/{first['id']}", If_None_Match=etag)
    assert now.status_code == 200, "to its readers it is another thing"
    assert now.json()["superseded_by"] == second["id"]
    assert now.json()["findings"] == first["findings"]
    listing = f"/candidates/{scene.heron.id}/submissions"
    assert len(scene.cast.ivy.get(listing).json()["results"]) == 2
    live = scene.cast.ivy.get(f"{listing}?live=true").json()["results"]
    assert [row["id"] for row in live] == [second["id"]]
    kinds = Event.objects.filter(thing="submission").values_list("kind", flat=True)
    assert list(kinds)[-2:] == ["submission.superseded", "submission.submitted"]


def test_a_correction_can_be_corrected(scene, first):
    second = scene.posted(scene.cast.ben, look("joint", 1), supersedes=first["id"])
    third = scene.posted(scene.cast.ben, look("joint", 2), supersedes=second["id"])
    live = scene.cast.ivy.get(f"/candidates/{scene.heron.id}/submissions?live=true")
    assert [row["id"] for row in live.json()["results"]] == [third["id"]]


def test_there_is_one_successor(scene, first):
    scene.posted(scene.cast.ben, look("joint", 1), supersedes=first["id"])
    refused = scene.post(scene.cast.ben, look("joint", 0), supersedes=first["id"])
    assert pointers(refused) == {"/supersedes"}
    assert refused.json()["errors"][0]["code"] == "superseded_already"


def test_a_draft_of_a_correction_supersedes_nothing_yet(scene, first):
    draft = scene.posted(scene.cast.ben, look("joint", 1), supersedes=first["id"], state="draft")
    for reader in (scene.cast.ben, scene.cast.bea):
        assert reader.get(f"/submissions/{first['id']}").json()["superseded_by"] is None
    live = f"/candidates/{scene.heron.id}/submissions?live=true"
    assert [row["id"] for row in scene.cast.bea.get(live).json()["results"]] == [first["id"]]
    # One draft of it is enough; thrown away, it makes room for another.
    again = {"supersedes": first["id"]}
    assert pointers(scene.post(scene.cast.ben, look("joint", 1), **again)) == {"/supersedes"}
    kept = {"state": "draft", "supersedes": first["id"], "findings": [look("joint", 2)]}
    at = f"/submissions/{draft['id']}"
    assert scene.cast.ben.change("PUT", at, kept).status_code == 200
    assert scene.cast.ben.change("DELETE", at).status_code == 204
    assert scene.post(scene.cast.ben, look("joint", 1), **again).status_code == 201


def test_only_an_own_one_of_the_same_boat(scene, first):
    draft = scene.posted(scene.cast.ben, look("iron", 1), state="draft")
    codes = {
        "somebody else's": (scene.cast.bea, first["id"], {}),
        "another boat's": (scene.cast.ben, first["id"], {"viewing": scene.visit(scene.dunlin)}),
        "nobody's": (scene.cast.ben, str(uuid4()), {}),
        "a draft": (scene.cast.ben, draft["id"], {}),
    }
    refusals = {
        name: scene.post(who, look("iron", 1), supersedes=earlier, **more)
        for name, (who, earlier, more) in codes.items()
    }
    for refused in refusals.values():
        assert pointers(refused) == {"/supersedes"}
    assert {name: r.json()["errors"][0]["code"] for name, r in refusals.items()} == {
        "somebody else's": "unknown",
        "another boat's": "unknown",
        "nobody's": "unknown",
        "a draft": "not_submitted",
    }


def test_not_itself(scene, first):
    at = scene.posted(scene.cast.ben, look("iron", 1), state="draft")["id"]
    refused = scene.cast.ben.change("PUT", f"/submissions/{at}", {"supersedes": at})
    assert pointers(refused) == {"/supersedes"}
