"""Sea trials: a viewing of their own kind, with checks of their own and what was open before."""

import pytest
from django.conf import settings
from django.db import IntegrityError, transaction

from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.services import catalogue_load
from apps.viewings.facts import candidate_findings, is_guess
from apps.viewings.models import Viewing
from tests.conftest import pointers
from tests.viewings.conftest import could_not, look

# Of the shipped catalogue, for a boat whose particulars nobody stated.
UNDER_WAY = {
    *("temperatures-under-way", "exhaust-under-way", "gearbox-under-way", "steering-under-way"),
    *("rig-under-load", "leaks-under-way", "instruments-under-way"),
    *("full-throttle-run", "sailing-trial"),
}


@pytest.fixture
def shipped(scene):
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    return scene


def plan(scene, who=None, **changed):
    body = {"kind": "sea_trial", "starts_at": "2025-05-03T09:30:00Z", **changed}
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/viewings", body)


def checklist(scene, query="", who=None):
    answer = (who or scene.cast.ben).get(f"/candidates/{scene.heron.id}/checklist{query}")
    assert answer.status_code == 200, answer.content
    return answer.json()


def codes(found, part="possible"):
    return {check["code"] for place in found["places"] for check in place[part]}


def test_it_works(scene):
    made = plan(scene, conditions={"wind": 4, "sea_state": 3, "sails_set": "full"})
    assert made.status_code == 201, made.content
    assert made.json()["kind"] == "sea_trial"
    conditions = made.json()["conditions"]
    assert conditions["where"] == "afloat", "it goes without saying"
    assert (conditions["wind"], conditions["sea_state"]) == (4, 3)
    assert (conditions["sails_set"], conditions["full_throttle"]) == ("full", None)
    at = f"/candidates/{scene.heron.id}/viewings"
    listed = {
        kind: [row["id"] for row in scene.cast.ivy.get(f"{at}?kind={kind}").json()["results"]]
        for kind in ("visit", "sea_trial")
    }
    assert listed == {"visit": [str(scene.viewing.id)], "sea_trial": [made.json()["id"]]}


def test_a_stranger_finds_nothing_and_an_observer_plans_none(scene):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert plan(scene, stranger).status_code == 404
    assert plan(scene, scene.cast.ivy).status_code == 403
    assert not Viewing.objects.filter(kind="sea_trial").exists()


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"kind": "cruise"}, "/kind"),
        ({"conditions": {"where": "ashore"}}, "/conditions/where"),
        ({"conditions": {"wind": 13}}, "/conditions/wind"),
        ({"conditions": {"wind": 3.5}}, "/conditions/wind"),
        ({"conditions": {"sea_state": -1}}, "/conditions/sea_state"),
        ({"conditions": {"sails_set": "some"}}, "/conditions/sails_set"),
        ({"kind": "visit", "conditions": {"wind": 0}}, "/conditions/wind"),
        ({"kind": "visit", "conditions": {"load": "light"}}, "/conditions/load"),
    ],
)
def test_bad_fields_are_named(scene, changed, at):
    assert pointers(plan(scene, **changed)) == {at}
    assert Viewing.objects.count() == 1


def test_it_stays_what_it_is_and_afloat(scene):
    path = f"/viewings/{plan(scene).json()['id']}"
    ben = scene.cast.ben
    assert pointers(ben.change("PATCH", path, {"kind": "visit"})) == {"/kind"}
    for where in (None, "ashore"):
        refused = ben.change("PATCH", path, {"conditions": {"where": where}})
        assert pointers(refused) == {"/conditions/where"}
    seen = ben.get(path)["ETag"]
    changed = ben.patch(path, {"conditions": {"wind": 5, "load": "light"}}, If_Match=seen)
    assert (changed.status_code, changed.json()["conditions"]["wind"]) == (200, 5)
    assert ben.patch(path, {"conditions": {"wind": 6}}, If_Match=seen).status_code == 412
    refused = ben.change("PATCH", f"/viewings/{scene.viewing.id}", {"conditions": {"wind": 5}})
    assert pointers(refused) == {"/conditions/wind"}


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "sea_trial", "where": "ashore"},
        {"kind": "sea_trial", "where": ""},
        {"kind": "visit", "wind": 4},
        {"kind": "visit", "sails_set": "full"},
    ],
)
def test_the_database_holds_it_too(scene, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        Viewing.objects.update(**wrong)


# --- Its checklist -------------------------------------------------------------------------------


def test_a_visit_neither_has_its_checks_nor_leaves_them_out(shipped):
    for query in ("", "?where=afloat", "?where=ashore&minutes=15", "?kind=visit"):
        found = checklist(shipped, query)
        assert not UNDER_WAY & (codes(found) | codes(found, "not_possible"))
        assert not UNDER_WAY & {check["code"] for check in found["later"]}
        assert found["cautions"] == []


def test_it_has_its_own_checks_last_and_its_caution_first(shipped):
    found = checklist(shipped, "?kind=sea_trial")
    assert (found["kind"], found["places"][-1]["place"]) == ("sea_trial", "under_way")
    assert {check["code"] for check in found["places"][-1]["possible"]} == UNDER_WAY
    (caution,) = found["cautions"]
    for said in ("in command", "Lifejacket", "clipped on", "over the side", "insures", "forecast"):
        assert said in caution["text"], said
    assert "blister-depth" in codes(found, "not_possible"), "she is afloat"


@pytest.mark.parametrize(
    ("query", "prevented", "guesses"),
    [
        ("wind=2", set(), {"rig-under-load", "steering-under-way", "sailing-trial"}),
        ("wind=3", set(), set()),
        ("sails_set=none", {"rig-under-load", "sailing-trial"}, set()),
        ("full_throttle=none", {"full-throttle-run"}, {"exhaust-under-way"}),
        ("full_throttle=brief", set(), {"full-throttle-run"}),
        ("sea_state=5", set(), {"full-throttle-run"}),
        ("sea_state=4", set(), set()),
        ("mast_state=elsewhere", {"rig-under-load", "sailing-trial"}, set()),
    ],
)
def test_wind_sea_sails_and_throttle_decide_what_a_check_means(shipped, query, prevented, guesses):
    found = checklist(shipped, f"?kind=sea_trial&{query}")
    assert codes(found, "not_possible") & UNDER_WAY == prevented
    checks = [check for place in found["places"] for check in place["possible"]]
    assert {check["code"] for check in checks if check["hampered"]} & UNDER_WAY == guesses


def test_what_was_open_because_she_was_ashore_is_on_it(shipped):
    ashore = shipped.visit(where="ashore", walk_under_cover=True)
    shipped.posted(
        shipped.cast.hal,
        look("engine-oil", 0),
        look("stanchions", 1),
        could_not("cold-start", "ashore"),
        could_not("winches", "no_time"),
        viewing=ashore,
    )
    trial = plan(shipped).json()["id"]
    found = checklist(shipped, f"?viewing={trial}")
    later = {check["code"] for check in found["later"]}
    assert {"cold-start", "winches"} | UNDER_WAY <= codes(found)
    assert "stanchions" in codes(found), "a guess, under a cover"
    assert "engine-oil" in later
    assert codes(found).isdisjoint(later)
    everything = checklist(shipped, f"?viewing={trial}&open=false")
    assert codes(everything) == codes(found) | later
    again = checklist(shipped, "?where=afloat&open=true")
    assert "winches" in codes(again), "a second visit, too, can be to what is open"
    assert "engine-oil" not in codes(again)


def test_a_guess_leaves_it_open_and_a_professionals_look_does_not(shipped):
    covered = shipped.visit(light="poor")
    hampered = sorted(
        check["code"]
        for place in checklist(shipped, "?light=poor")["places"]
        for check in place["possible"]
        if check["hampered"]
    )
    first, second = hampered[:2]
    shipped.posted(shipped.cast.hal, look(first, 1), viewing=covered)
    professional = {"capacity": "professional", "profession": "surveyor"}
    shipped.posted(shipped.cast.ola, look(second, 1), viewing=covered, **professional)
    found = checklist(shipped, "?open=true")
    assert first in codes(found)
    assert second in {check["code"] for check in found["later"]}


def test_people_on_one_trial_look_for_themselves(shipped):
    trial = Viewing.objects.get(pk=plan(shipped).json()["id"])
    before = checklist(shipped, f"?viewing={trial.pk}")
    shipped.posted(shipped.cast.hal, look("engine-oil", 3), viewing=trial)
    assert codes(checklist(shipped, f"?viewing={trial.pk}")) == codes(before)


def test_a_look_in_light_wind_is_a_guess(shipped):
    trial = shipped.visit(kind="sea_trial", where="afloat", wind=1)
    shipped.posted(
        shipped.cast.hal, look("rig-under-load", 1), look("gearbox-under-way", 1), viewing=trial
    )
    checkpoints = catalogue_snapshot(shipped.cast.group.pk).catalogue.checkpoints
    guesses = {
        one.checkpoint: is_guess(one, checkpoints[one.checkpoint])
        for one in candidate_findings(shipped.heron.pk)
    }
    assert guesses == {"rig-under-load": True, "gearbox-under-way": False}


def test_it_can_come_from_a_phone_that_was_without_signal(scene, fresh_id):
    visit = {
        "id": str(fresh_id),
        "candidate": str(scene.heron.id),
        "kind": "sea_trial",
        "starts_at": scene.viewing.starts_at.isoformat(),
        "conditions": {"wind": 4},
        "people": [],
    }
    sent = {"id": str(fresh_id)[:-1] + "0", "new_viewing": visit, "state": "submitted"}
    body = {"submissions": [{**sent, "findings": [look("joint", 1)]}]}
    answer = scene.cast.ola.post(f"/groups/{scene.cast.group.pk}/submission-batches", body)
    (result,) = answer.json()["results"]
    assert result["problem"] is None, result
    made = Viewing.objects.get(pk=result["viewing"])
    assert made.pk != scene.viewing.pk, "the visit of that hour is another viewing"
    assert (made.kind, made.where, made.wind) == ("sea_trial", "afloat", 4)
