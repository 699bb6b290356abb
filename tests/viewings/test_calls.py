"""Others' votes are hidden until the reader gives one or the organiser opens them."""

import pytest

from tests.viewings.conftest import look


@pytest.fixture
def bens(scene):
    return scene.posted(scene.cast.ben, look("joint", 3), vote="strike")


def seen(who, submission):
    said = who.get(f"/submissions/{submission['id']}").json()
    assert said["findings"], "findings are facts: everybody sees them"
    return said["vote"], said["vote_hidden"]


def test_it_works(scene, bens):
    cast = scene.cast
    assert seen(cast.ben, bens) == ("strike", False), "one's own is not hidden"
    assert seen(cast.bea, bens) == (None, True)
    scene.posted(cast.bea, vote="keep")
    assert seen(cast.bea, bens) == ("strike", False)


def test_lists_hide_it_too(scene, bens):
    hals = scene.posted(scene.cast.hal, look("iron", 1))
    for at in (
        f"/viewings/{scene.viewing.id}/submissions",
        f"/candidates/{scene.heron.id}/submissions",
    ):
        rows = {row["id"]: row for row in scene.cast.bea.get(at).json()["results"]}
        for each in (bens, hals):
            row = rows[each["id"]]
            assert (row["vote"], row["vote_hidden"]) == (None, True), "given or not is hidden too"


def test_who_never_gives_one_sees_none(scene, bens):
    for who in (scene.cast.hal, scene.cast.ivy):
        scene.post(who, look("iron", 1))
        assert seen(who, bens) == (None, True)


def test_the_organiser_opens_them(scene, bens):
    scene.list.opinions_open = True
    scene.list.save()
    for who in (scene.cast.bea, scene.cast.hal, scene.cast.ivy):
        assert seen(who, bens) == ("strike", False)


def test_a_call_on_another_boat_or_in_a_draft_opens_nothing(scene, bens):
    scene.posted(scene.cast.bea, vote="keep", viewing=scene.visit(scene.dunlin))
    scene.posted(scene.cast.bea, vote="keep", state="draft")
    scene.posted(scene.cast.bea, look("iron", 1))
    assert seen(scene.cast.bea, bens) == (None, True)


def test_it_is_not_held_for_unchanged_once_it_is_shown(scene, bens):
    at = f"/submissions/{bens['id']}"
    held = scene.cast.bea.get(at)["ETag"]
    assert scene.cast.bea.get(at, If_None_Match=held).status_code == 304
    scene.posted(scene.cast.bea, vote="keep")
    assert scene.cast.bea.get(at, If_None_Match=held).json()["vote"] == "strike"
