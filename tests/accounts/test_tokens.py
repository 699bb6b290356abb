"""Tokens for a person's own scripts."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.accounts.models import Token
from apps.http.models import IdempotencyRecord
from tests.conftest import Speaker, pointers


def soon(**more):
    return timezone.now() + timedelta(days=30, **more)


def make(who, headers=None, **changed):
    body = {"name": "kitchen laptop", "scopes": ["lists:read"], "expires_at": soon()} | changed
    return who.post("/tokens", body, **(headers or {}))


def test_it_works(cast):
    made = make(cast.ben)
    assert made.status_code == 201, made.content
    script = Speaker(None, made.json()["token"])
    assert script.get("/groups").status_code == 200
    assert script.get("/people/me").json()["scope"] == "account:read"
    (listed,) = cast.ben.get("/tokens").json()["results"]
    assert (listed["name"], listed["scopes"]) == ("kitchen laptop", ["lists:read"])
    assert "token" not in listed
    assert listed["last_used_at"] is not None


def test_all_that_the_person_may(cast):
    script = Speaker(None, make(cast.ola, scopes=None).json()["token"])
    assert script.change("PATCH", f"/groups/{cast.group.id}", {"name": "Arctic"}).status_code == 200


def test_only_its_digest_is_kept(cast):
    secret = make(cast.ben, headers={"Idempotency_Key": "t1"}).json()["token"]
    assert secret not in str(list(Token.objects.values_list()))
    assert secret not in IdempotencyRecord.objects.get().body
    again = make(cast.ben, headers={"Idempotency_Key": "t1"}, expires_at=None)
    assert again.status_code == 422  # another body under the same key


def test_a_repeat_makes_one(cast):
    body = {"name": "x", "scopes": ["lists:read"], "expires_at": soon()}
    first = cast.ben.post("/tokens", body, Idempotency_Key="t2")
    again = cast.ben.post("/tokens", body, Idempotency_Key="t2")
    assert again.json() == first.json() | {"token": None}
    assert Token.objects.filter(kind="personal").count() == 1


def test_no_token_makes_another(cast):
    script = Speaker(None, make(cast.ben, scopes=None).json()["token"])
    refused = make(script)
    assert (refused.status_code, refused.json()["code"]) == (403, "session_needed")


def test_revoked_it_opens_nothing(cast):
    made = make(cast.ben).json()
    at = f"/tokens/{made['id']}"
    assert cast.bea.delete(at).status_code == 404
    assert cast.ben.delete(at).status_code == 204
    assert cast.ben.delete(at).status_code == 404
    assert Speaker(None, made["token"]).get("/groups").status_code == 401
    assert cast.ben.get("/tokens").json()["results"] == []


def test_expired_it_opens_nothing(cast):
    made = make(cast.ben).json()
    past = timezone.now() - timedelta(days=9)
    Token.objects.filter(pk=made["id"]).update(created_at=past, expires_at=past + timedelta(days=1))
    assert Speaker(None, made["token"]).get("/groups").status_code == 401


def test_sessions_and_tokens_are_kept_apart(cast):
    made = make(cast.ben).json()
    assert cast.ben.delete(f"/sessions/{made['id']}").status_code == 404
    (session,) = cast.ben.get("/sessions").json()["results"]
    assert session["current"] is True
    assert cast.ben.delete(f"/tokens/{session['id']}").status_code == 404


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"scopes": ["no:such"]}, "/scopes/0"),
        ({"scopes": []}, "/scopes"),
        ({"scopes": "lists:read"}, "/scopes"),
        ({"expires_at": soon(weeks=52)}, "/expires_at"),
        ({"expires_at": timezone.now() - timedelta(seconds=1)}, "/expires_at"),
        ({"name": ""}, "/name"),
    ],
)
def test_bad_bodies_are_pointed_to(cast, changed, pointer):
    assert pointers(make(cast.ben, **changed)) == {pointer}
    assert not Token.objects.filter(kind="personal").exists()


def test_constant_queries(cast, django_assert_num_queries):
    make(cast.ben)
    cast.ben.get("/tokens")  # a token's first use is noted
    with django_assert_num_queries(2):  # token, page of tokens
        assert len(cast.ben.get("/tokens").json()["results"]) == 1
    for _ in range(4):
        make(cast.ben)
    with django_assert_num_queries(2):
        assert len(cast.ben.get("/tokens").json()["results"]) == 5
