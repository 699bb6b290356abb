"""Founding, reading and renaming a group."""

import pytest

from apps.groups.models import Group
from tests.conftest import pointers


def test_it_works(cast):
    made = cast.sten.post("/groups", {"name": "Petrel"})
    assert made.status_code == 201
    assert made.json()["own_role"] == "organiser"
    read = cast.sten.get(f"/groups/{made.json()['id']}")
    assert read.json()["name"] == "Petrel"
    assert read["ETag"] == made["ETag"]


def test_it_lists_only_own_groups(cast):
    names = [row["name"] for row in cast.ben.get("/groups").json()["results"]]
    assert names == ["Tern"]


def test_it_asks_for_a_token(cast):
    refused = cast.nobody.get("/groups")
    assert refused.status_code == 401
    assert refused["WWW-Authenticate"].startswith("Bearer")
    assert refused["Content-Type"] == "application/problem+json"


def test_it_does_not_exist_for_strangers(cast):
    assert cast.sten.get(f"/groups/{cast.group.id}").status_code == 404
    assert cast.wim.patch(f"/groups/{cast.group.id}", {"name": "x"}).status_code == 404


def test_observer_may_not_rename(cast):
    refused = cast.ivy.change("PATCH", f"/groups/{cast.group.id}", {"name": "Ours"})
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["organiser"]


def test_stale_and_missing_versions(cast):
    path = f"/groups/{cast.group.id}"
    seen = cast.ola.get(path)["ETag"]
    assert cast.ola.patch(path, {"name": "Tern and Co"}, If_Match=seen).status_code == 200
    assert cast.ola.patch(path, {"name": "Late"}, If_Match=seen).status_code == 412
    assert cast.ola.patch(path, {"name": "Blind"}).status_code == 428
    assert Group.objects.get(pk=cast.group.pk).name == "Tern and Co"


def test_not_modified(cast):
    path = f"/groups/{cast.group.id}"
    seen = cast.ola.get(path)["ETag"]
    assert cast.ola.get(path, If_None_Match=seen).status_code == 304


def test_a_repeat_is_answered_once(cast):
    first = cast.sten.post("/groups", {"name": "Petrel"}, Idempotency_Key="k1")
    again = cast.sten.post("/groups", {"name": "Petrel"}, Idempotency_Key="k1")
    assert again.json() == first.json()
    assert again["Idempotent-Replay"] == "true"
    assert Group.objects.filter(name="Petrel").count() == 1
    other = cast.sten.post("/groups", {"name": "Fulmar"}, Idempotency_Key="k1")
    assert other.status_code == 422
    assert other.json()["errors"][0]["code"] == "idempotency_key_reused"


def test_client_made_id(cast, fresh_id):
    made = cast.sten.post("/groups", {"id": str(fresh_id), "name": "Petrel"})
    assert made.json()["id"] == str(fresh_id)
    assert cast.wim.post("/groups", {"id": str(fresh_id), "name": "x"}).status_code == 409


@pytest.mark.parametrize(
    ("body", "at"),
    [({}, "/name"), ({"name": ""}, "/name"), ({"name": "x" * 121}, "/name"), ([], "")],
)
def test_bad_fields_are_named(cast, body, at):
    assert pointers(cast.sten.post("/groups", body)) == {at}


def test_unknown_parameter_is_named(cast):
    assert pointers(cast.ben.get("/groups?budget=1")) == {"?budget"}


def test_constant_queries(cast, django_assert_max_num_queries, django_assert_num_queries):
    for n in range(5):
        cast.ben.post("/groups", {"name": f"Group {n}"})
    # token, page of groups, own memberships
    cast.ben.get("/groups"), cast.wim.get("/groups")  # a token's first use is noted
    with django_assert_num_queries(3):
        assert len(cast.ben.get("/groups").json()["results"]) == 6
    with django_assert_num_queries(3):
        assert len(cast.wim.get("/groups").json()["results"]) == 1
