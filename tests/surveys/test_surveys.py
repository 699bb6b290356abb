"""Surveys as commissioned."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.events.models import Event
from apps.surveys.models import Survey
from tests.conftest import pointers
from tests.surveys.conftest import commissioned, opened, reported


@pytest.fixture
def at(scene):
    return f"/surveys/{commissioned(scene).json()['id']}"


def test_it_works(scene):
    before = scene.revision()
    vote = opened(scene).json()["id"]
    made = commissioned(scene, vote=vote, payer=str(scene.cast.bea.person.pk))
    assert made.status_code == 201, made.content
    said = made.json()
    assert said["fee"] == {"amount": "850.00", "currency": "EUR"}
    assert (said["kind"], said["profession"], said["vote"]) == ("hull", "surveyor", vote)
    assert (said["payer"]["name"], said["state"], said["report"]) == ("Bea", "commissioned", None)
    assert scene.cast.ivy.get(f"/surveys/{said['id']}").json() == said
    listed = scene.cast.ivy.get(f"/candidates/{scene.heron.id}/surveys").json()["results"]
    assert listed == [said]
    assert scene.revision() == before  # no result rests on it before its report
    assert Event.objects.latest("number").kind == "survey.commissioned"


@pytest.mark.parametrize(
    ("kind", "profession"),
    [
        ("rig", "rigger"),
        ("engine", "engine mechanic"),
        ("sails", "sailmaker"),
        ("electrics", "electrician"),
        ("gas", "gas fitter"),
    ],
)
def test_specialists_likewise(scene, kind, profession):
    assert commissioned(scene, kind=kind).json()["profession"] == profession


def test_it_is_changed_and_called_off(scene, at):
    put = {"planned_on": "2025-04-19", "fee": None, "note": "A week later"}
    changed = scene.cast.bea.change("PATCH", at, put)
    assert changed.status_code == 200, changed.content
    said = changed.json()
    assert (said["planned_on"], said["fee"], said["surveyor"]) == (
        "2025-04-19",
        None,
        "The surveyor of the harbour",
    )
    assert scene.cast.ben.change("PATCH", at, {"state": "called_off"}).status_code == 200
    refused = reported(scene, at)
    assert (refused.status_code, refused.json()["code"]) == (409, "survey_called_off")


def test_what_has_a_report_is_not_called_off(scene, at):
    assert reported(scene, at).status_code == 201
    refused = scene.cast.ben.change("PATCH", at, {"state": "called_off"})
    assert (refused.status_code, refused.json()["code"]) == (409, "survey_reported")


def test_refused(scene):
    assert pointers(commissioned(scene, kind="soul")) == {"/kind"}
    stranger, nothing = str(scene.cast.wim.person.pk), str(scene.heron.pk)
    assert pointers(commissioned(scene, payer=stranger, vote=nothing)) == {"/payer", "/vote"}
    assert pointers(commissioned(scene, fee={"amount": "-1", "currency": "EUR"})) == {"/fee/amount"}
    assert not Survey.objects.exists()


def test_the_database_holds_it_too(scene, at):
    with pytest.raises(IntegrityError), transaction.atomic():
        Survey.objects.update(fee_currency="")


def test_observer_and_helper_may_not_write(scene, at):
    for who in (scene.cast.ivy, scene.cast.hal):
        assert commissioned(scene, who).status_code == 403
        assert who.change("PATCH", at, {"note": "Mine"}).status_code == 403
        assert reported(scene, at, who).status_code == 403


def test_it_does_not_exist_for_strangers(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert commissioned(scene, stranger).status_code == 404
        for path in (at, f"{at}/reports", f"{at}/comparison"):
            assert stranger.get(path).status_code == 404
        assert stranger.get(f"/candidates/{scene.heron.id}/surveys").status_code == 404
        assert stranger.patch(at, {"note": "Mine"}, If_Match="*").status_code == 404
        assert reported(scene, at, stranger).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_stale_and_missing_versions(scene, at):
    seen = scene.cast.ben.get(at)["ETag"]
    scene.cast.bea.change("PATCH", at, {"note": "First"})
    assert scene.cast.ben.patch(at, {"note": "Late"}, If_Match=seen).status_code == 412
    assert scene.cast.ben.patch(at, {"note": "Late"}).status_code == 428
    assert Survey.objects.get().note == "First"


def test_a_repeat_commissions_no_second(scene):
    body = {"kind": "rig", "surveyor": "A rigger"}
    path = f"/candidates/{scene.heron.id}/surveys"
    first = scene.cast.ben.post(path, body, Idempotency_Key="once")
    assert scene.cast.ben.post(path, body, Idempotency_Key="once").json() == first.json()
    assert Survey.objects.count() == 1


def test_as_many_queries_for_many(scene, at):
    path = f"/candidates/{scene.heron.id}/surveys"

    def queries():
        with CaptureQueriesContext(connection) as made:
            assert scene.cast.ben.get(path).status_code == 200
        return len(made)

    reported(scene, at)
    one = queries()
    for kind in ("rig", "engine"):
        other = commissioned(scene, kind=kind).json()["id"]
        reported(scene, f"/surveys/{other}", findings=[{"words": "Worn"}])
    assert queries() == one
