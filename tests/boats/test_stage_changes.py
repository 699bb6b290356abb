"""Moving a boat from stage to stage, striking her off and reinstating her."""

import pytest

from apps.boats.models import Candidate, StageChange
from tests.boats.conftest import events, queries_of, revision
from tests.conftest import pointers


def post(cast, boat_id, stage, reason=None, who="ben", **headers):
    body = {"stage": stage} | ({} if reason is None else {"reason": reason})
    return getattr(cast, who).post(f"/candidates/{boat_id}/stage-changes", body, **headers)


def test_it_works(cast, list_id, boat_id):
    before = revision(list_id)
    made = post(cast, boat_id, "viewing")
    assert made.status_code == 201, made.content
    assert made.json()["from_stage"] == "listed"
    assert made.json()["to_stage"] == "viewing"
    assert made.json()["by"]["name"] == "Ben"
    assert cast.ivy.get(f"/candidates/{boat_id}").json()["stage"] == "viewing"
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "candidate.stage_changed"


def test_struck_off_with_a_reason_and_reinstated_on_record(cast, boat_id):
    post(cast, boat_id, "struck_off", "soft deck all over")
    boat = cast.ivy.get(f"/candidates/{boat_id}").json()
    assert (boat["stage"], boat["stage_reason"]) == ("struck_off", "soft deck all over")
    post(cast, boat_id, "shortlisted", who="bea")
    boat = cast.ivy.get(f"/candidates/{boat_id}").json()
    assert (boat["stage"], boat["stage_reason"]) == ("shortlisted", "")
    steps = cast.ivy.get(f"/candidates/{boat_id}/stage-changes").json()["results"]
    assert [(s["from_stage"], s["to_stage"], s["reason"], s["by"]["name"]) for s in steps] == [
        ("listed", "struck_off", "soft deck all over", "Ben"),
        ("struck_off", "shortlisted", "", "Bea"),
    ]


@pytest.mark.parametrize("reason", [None, "", "   "])
def test_striking_off_takes_a_reason(cast, boat_id, reason):
    assert pointers(post(cast, boat_id, "struck_off", reason)) == {"/reason"}
    assert Candidate.objects.get(pk=boat_id).stage == "listed"


@pytest.mark.parametrize(
    ("body", "at"),
    [({}, "/stage"), ({"stage": "sunk"}, "/stage"), ({"stage": "offer", "why": "x"}, "/why")],
)
def test_bad_fields_are_named(cast, boat_id, body, at):
    assert pointers(cast.ben.post(f"/candidates/{boat_id}/stage-changes", body)) == {at}


def test_the_same_stage_is_no_change(cast, boat_id):
    refused = post(cast, boat_id, "listed")
    assert refused.status_code == 409
    assert refused.json()["code"] == "already_there"


def test_it_raises_the_version(cast, boat_id):
    path = f"/candidates/{boat_id}"
    seen = cast.bea.get(path)["ETag"]
    post(cast, boat_id, "viewing")
    assert cast.bea.patch(path, {"name": "Late"}, If_Match=seen).status_code == 412


def test_it_does_not_exist_for_strangers(cast, boat_id):
    for stranger in ("sten", "wim"):
        assert post(cast, boat_id, "viewing", who=stranger).status_code == 404
        path = f"/candidates/{boat_id}/stage-changes"
        assert getattr(cast, stranger).get(path).status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_buyers_move_her(cast, boat_id, who):
    assert post(cast, boat_id, "viewing", who=who).status_code == 403


def test_a_repeat_is_answered_once(cast, boat_id):
    first = post(cast, boat_id, "viewing", Idempotency_Key="k1")
    again = post(cast, boat_id, "viewing", Idempotency_Key="k1")
    assert again.json() == first.json()
    assert StageChange.objects.count() == 1


def test_constant_queries(cast, boat_id):
    path = f"/candidates/{boat_id}/stage-changes"
    post(cast, boat_id, "viewing")
    one = queries_of(lambda: cast.ivy.get(path))
    for stage in ("shortlisted", "survey", "offer"):
        post(cast, boat_id, stage)
    assert queries_of(lambda: cast.ivy.get(path)) == one == 3  # token, candidate, changes
