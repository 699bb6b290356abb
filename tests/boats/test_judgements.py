"""Owners' judgements of free wants."""

import pytest

from apps.boats.models import Judgement
from tests.boats.conftest import add_boat, events, queries_of, revision
from tests.boats.test_wants import FREE, SHALLOW
from tests.conftest import pointers


@pytest.fixture
def want_id(cast, list_id) -> str:
    return cast.ben.post(f"/lists/{list_id}/wants", FREE).json()["id"]


@pytest.fixture
def path(boat_id, want_id) -> str:
    return f"/wants/{want_id}/judgements/{boat_id}"


def test_it_works(cast, list_id, boat_id, want_id, path):
    before = revision(list_id)
    made = cast.ben.put(path, {"met": True, "note": "two burners and a sink"})
    assert made.status_code == 201, made.content
    assert made.json()["met"] is True
    assert made.json()["candidate"] == boat_id
    assert cast.ivy.get(path).json() == made.json()
    (row,) = cast.ivy.get(f"/wants/{want_id}/judgements").json()["results"]
    assert row == made.json()
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "judgement.given"


def test_another_one_takes_its_place(cast, path):
    cast.ben.put(path, {"met": True, "note": "so I thought"})
    changed = cast.ben.change("PUT", path, {"met": False})
    assert changed.status_code == 200
    assert (changed.json()["met"], changed.json()["note"]) == (False, "")
    assert Judgement.objects.count() == 1


def test_withdraw(cast, list_id, path):
    cast.ben.put(path, {"met": True})
    before = revision(list_id)
    assert cast.ben.change("DELETE", path).status_code == 204
    assert cast.ben.get(path).status_code == 404
    assert cast.ben.delete(path).status_code == 404
    assert revision(list_id) == before + 1


def test_versions(cast, path):
    first = cast.ben.put(path, {"met": True}, If_None_Match="*")
    assert first.status_code == 201
    assert cast.ben.put(path, {"met": False}).status_code == 428
    assert cast.ben.put(path, {"met": False}, If_None_Match="*").status_code == 412
    assert cast.ben.put(path, {"met": False}, If_Match=first["ETag"]).status_code == 200
    assert cast.ben.put(path, {"met": True}, If_Match=first["ETag"]).status_code == 412
    assert cast.ben.delete(path).status_code == 428
    assert Judgement.objects.get().met is False


def test_none_yet_matches_no_etag(cast, path):
    assert cast.ben.get(path).status_code == 404
    assert cast.ben.put(path, {"met": True}, If_Match='"x"').status_code == 412


def test_only_free_wants_are_judged(cast, list_id, boat_id):
    want = cast.ben.post(f"/lists/{list_id}/wants", SHALLOW).json()["id"]
    refused = cast.ben.put(f"/wants/{want}/judgements/{boat_id}", {"met": True})
    assert refused.status_code == 409
    assert refused.json()["code"] == "not_a_free_want"


def test_only_its_owner_judges(cast, path):
    for who in ("bea", "ola", "ivy"):
        assert getattr(cast, who).put(path, {"met": True}).status_code == 403


def test_it_does_not_exist_for_strangers(cast, path, want_id):
    for stranger in (cast.sten, cast.wim):
        assert stranger.put(path, {"met": True}).status_code == 404
        assert stranger.get(path).status_code == 404
        assert stranger.get(f"/wants/{want_id}/judgements").status_code == 404


def test_a_candidate_of_another_list(cast, want_id, foreign_list_id):
    other = cast.wim.post(f"/lists/{foreign_list_id}/candidates", {"name": "Skua"}).json()["id"]
    assert cast.ben.put(f"/wants/{want_id}/judgements/{other}", {"met": True}).status_code == 404


def test_bad_fields_are_named(cast, path):
    assert pointers(cast.ben.put(path, {})) == {"/met"}
    assert pointers(cast.ben.put(path, {"met": "perhaps", "why": "x"})) == {"/met", "/why"}


def test_constant_queries(cast, list_id, boat_id, want_id, path):
    cast.ben.put(path, {"met": True})
    rows = f"/wants/{want_id}/judgements"
    one = queries_of(lambda: cast.ivy.get(rows))
    for n in range(4):
        cast.ben.put(f"{rows}/{add_boat(cast, list_id, name=str(n))}", {"met": False})
    assert queries_of(lambda: cast.ivy.get(rows)) == one == 3  # token, want, judgements
