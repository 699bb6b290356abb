"""Viewings in the words of the group: its club's, with its own over them."""

import pytest

from apps.groups.models import Club, ClubMembership, Group
from apps.viewings.doubts import open_doubts
from tests.catalogue.own import JOINT, NEW_REMEDY, WARM, said
from tests.conftest import pointers
from tests.viewings.conftest import look

OURS = {**JOINT, "title": "Joint, in our words", "levels": ["a", "b", "c", "d", "e"]}


@pytest.fixture
def of_club(scene) -> str:
    """The catalogue of the club of the test's group; Ben is an adviser."""
    club = Club.objects.create(name="Harbour")
    ClubMembership.objects.create(club=club, person=scene.cast.ben.person, role="adviser")
    Group.objects.filter(pk=scene.cast.group.pk).update(club=club)
    return f"/clubs/{club.pk}/catalogue"


@pytest.fixture
def foreign(scene) -> str:
    """Another club, with entries of its own."""
    club = Club.objects.create(name="Lagoon")
    wim = scene.cast.wim
    ClubMembership.objects.create(club=club, person=wim.person, role="secretary")
    said(wim, f"/clubs/{club.pk}/catalogue/checkpoints/club-worm", WARM)
    said(wim, f"/clubs/{club.pk}/catalogue/remedies/club-copper", NEW_REMEDY)
    return f"/clubs/{club.pk}/catalogue"


def checks(scene, boat=None) -> dict[str, dict]:
    at = f"/candidates/{(boat or scene.heron).id}/checklist?viewing={scene.viewing.id}"
    found = scene.cast.ivy.get(at).json()
    return {check["code"]: check for part in found["places"] for check in part["possible"]}


def test_the_checklist_is_in_the_groups_words(scene, of_club):
    said(scene.cast.ben, f"{of_club}/checkpoints/joint", OURS)
    said(scene.cast.ben, f"{of_club}/checkpoints/club-worm", WARM)
    found = checks(scene)
    assert found["joint"]["title"] == "Joint, in our words"
    assert [level["description"] for level in found["joint"]["levels"]] == OURS["levels"]
    assert found["club-worm"]["title"] == WARM["title"]
    at = f"/candidates/{scene.heron.id}/checklist"
    assert scene.cast.ivy.get(at).json()["editions"] == {"base": 1, "club": 2, "group": 0}


def test_where_and_when_is_as_underlying_unless_stated(scene, of_club):
    where_and_when = ("place", "priority", "minutes")
    silent = {name: value for name, value in OURS.items() if name not in where_and_when}
    said(scene.cast.ben, f"{of_club}/checkpoints/joint", silent)
    joint = checks(scene)["joint"]
    assert (joint["priority"], joint["minutes"]) == (1, 2)
    assert joint["ask"].startswith("When was the keel last off")
    ours = {**OURS, "place": "deck", "priority": 3, "minutes": 7, "ask": "Was it ever off?"}
    said(scene.cast.ben, f"{of_club}/checkpoints/joint", ours)
    joint = checks(scene)["joint"]
    assert (joint["priority"], joint["minutes"]) == (3, 7)
    assert joint["ask"] == "Was it ever off?"
    at = f"/candidates/{scene.heron.id}/checklist"
    places = scene.cast.ivy.get(at).json()["places"]
    assert {part["place"]: [check["code"] for check in part["possible"]] for part in places} == {
        "ground": ["iron"],
        "deck": ["mainsail", "joint", "terminals"],
    }


def test_what_is_asked_by_telephone_needs_its_question(scene, of_club):
    answer = scene.cast.ben.put(
        f"{of_club}/checkpoints/club-papers", {"own": {**WARM, "place": "ask"}}
    )
    assert answer.status_code == 422
    assert pointers(answer) == {"/own/ask"}


def test_a_caution_that_the_club_adds_is_told_before_anybody_looks(scene, of_club):
    said(scene.cast.ben, f"{of_club}/cautions/stands", {"text": "Ours stand on a slope."})
    texts = [caution["text"] for caution in checks(scene)["joint"]["cautions"]]
    assert texts == ["Never touch a stand. Ours stand on a slope."]


def test_findings_keep_the_words_they_were_made_in(scene, of_club):
    before = scene.posted(scene.cast.ben, look("joint", 1))
    said(scene.cast.ben, f"{of_club}/checkpoints/joint", OURS)
    after = scene.posted(scene.cast.bea, look("joint", 2), viewing=scene.visit())
    own = {**OURS, "title": "Joint, in Tern's words"}
    said(scene.cast.ola, f"/groups/{scene.cast.group.id}/catalogue/checkpoints/joint", own)
    last = scene.posted(scene.cast.hal, look("joint", 2), viewing=scene.visit())
    read = [scene.cast.ivy.get(f"/submissions/{one['id']}").json() for one in (before, after, last)]
    assert [(one["findings"][0]["whose"], one["findings"][0]["title"]) for one in read] == [
        ("base", JOINT["title"]),
        ("club", "Joint, in our words"),
        ("group", "Joint, in Tern's words"),
    ]


def test_what_the_club_leaves_out_is_refused_but_stays_on_record(scene, of_club):
    made = scene.posted(scene.cast.ben, look("iron", 3))
    left_out = scene.cast.ben.put(f"{of_club}/checkpoints/iron", {"left_out": True})
    assert left_out.status_code == 201
    assert "iron" not in checks(scene)
    refused = scene.post(scene.cast.bea, look("iron", 3), viewing=scene.visit())
    assert pointers(refused) == {"/findings/0/checkpoint"}
    assert refused.json()["errors"][0]["code"] == "retired"
    read = scene.cast.ivy.get(f"/submissions/{made['id']}").json()
    assert read["findings"][0]["title"] == "Rust on an iron keel"


def test_a_doubt_stays_when_the_club_takes_its_checkpoint_back(scene, of_club):
    path = f"{of_club}/checkpoints/club-worm"
    said(scene.cast.ben, path, WARM)
    scene.posted(scene.cast.ben, look("club-worm", 3))
    scene.cast.ben.delete(path, If_Match=scene.cast.ben.get(path)["ETag"])
    (doubt,) = open_doubts(scene.list.id)
    assert (doubt.checkpoint, doubt.title, doubt.judged_by) == (
        "club-worm",
        WARM["title"],
        "surveyor",
    )


def test_who_must_judge_cannot_be_talked_away(scene, of_club):
    """A club's words for a guarded checkpoint leave its doubts open to the same professional."""
    said(scene.cast.ben, f"{of_club}/checkpoints/joint", OURS)
    scene.posted(scene.cast.ben, look("joint", 3))
    (doubt,) = open_doubts(scene.list.id)
    assert (doubt.judged_by, doubt.concerns) == ("surveyor", ("structural", "flooding"))


def test_nobody_learns_what_another_club_adds(scene, foreign):
    """The same answer as to a code that nobody ever gave."""
    for code in ("club-worm", "club-nothing"):
        refused = scene.post(scene.cast.ben, look(code, 3))
        assert refused.json()["errors"][0]["code"] == "unknown"
        question = {"question": "Worm?", "asked_of": "seller", "checkpoint": code}
        at = f"/candidates/{scene.heron.id}"
        refused = scene.cast.ben.post(f"{at}/follow-ups", question)
        assert refused.json()["errors"][0]["code"] == "unknown"
    for code in ("club-copper", "club-nothing"):
        refused = scene.cast.ben.post(f"/candidates/{scene.heron.id}/quotes", quote(code))
        assert refused.json()["errors"][0]["code"] == "unknown"
        assert scene.cast.ben.get(f"/remedies/{code}").status_code == 404


def quote(remedy: str) -> dict:
    return {
        "remedy": remedy,
        "price": {"amount": "900.00", "currency": "EUR"},
        "firmness": "fixed",
        "from_whom": "The yard",
        "dated_on": "2025-03-20",
    }


def test_a_remedy_that_the_club_adds_can_be_quoted_for(scene, of_club):
    said(scene.cast.ben, f"{of_club}/remedies/club-copper", NEW_REMEDY)
    at = f"/candidates/{scene.heron.id}/quotes"
    assert scene.cast.ben.post(at, quote("club-copper")).status_code == 201
    path = f"{of_club}/remedies/club-copper"
    scene.cast.ben.delete(path, If_Match=scene.cast.ben.get(path)["ETag"])
    refused = scene.cast.ben.post(at, quote("club-copper"))
    assert refused.json()["errors"][0]["code"] == "retired"


def test_a_follow_up_and_a_clearance_on_what_the_club_adds(scene, of_club):
    said(scene.cast.ben, f"{of_club}/checkpoints/club-worm", WARM)
    at = f"/candidates/{scene.heron.id}"
    question = {"question": "Worm?", "asked_of": "seller", "checkpoint": "club-worm"}
    assert scene.cast.ben.post(f"{at}/follow-ups", question).status_code == 201
    clearance = {
        "checkpoint": "club-worm",
        "basis": "repair",
        "level": 0,
        "document": "Invoice 17",
        "dated_on": "2025-03-20",
    }
    assert scene.cast.ben.post(f"{at}/clearances", clearance).status_code == 201


def test_a_value_is_measured_where_the_club_says_so(scene, of_club):
    without = {name: value for name, value in OURS.items() if name != "measure"}
    said(scene.cast.ben, f"{of_club}/checkpoints/joint", without)
    measured = {"checkpoint": "joint", "kind": "looked", "measured": {"value": 2.5, "unit": "mm"}}
    refused = scene.post(scene.cast.ben, measured)
    assert refused.json()["errors"][0]["code"] == "no_measure"
