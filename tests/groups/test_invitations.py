"""Joining by a one-use link."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.groups.models import Invitation, Membership
from apps.http.models import IdempotencyRecord
from tests.conftest import pointers

NEW = {"email": "kit@example.org", "name": "Kit", "password": "tidal stream 9"}


def invite(cast, role="buyer", **headers):
    return cast.ola.post(f"/groups/{cast.group.id}/invitations", {"role": role}, **headers)


def test_it_works(cast):
    token = invite(cast).json()["token"]
    joined = cast.nobody.post("/acceptances", {"token": token, **NEW})
    assert joined.status_code == 201
    membership = Membership.objects.get(person__email="kit@example.org")
    assert (membership.group, membership.role, membership.buys) == (cast.group, "buyer", True)
    assert not Invitation.objects.filter(digest=token).exists()


def test_somebody_signed_in_joins_as_themselves(cast):
    token = invite(cast, "observer").json()["token"]
    assert cast.sten.post("/acceptances", {"token": token}).status_code == 201
    assert cast.sten.get(f"/groups/{cast.group.id}").json()["own_role"] == "observer"


def test_it_works_only_once(cast):
    token = invite(cast).json()["token"]
    assert cast.sten.post("/acceptances", {"token": token}).status_code == 201
    assert pointers(cast.wim.post("/acceptances", {"token": token})) == {"/token"}


def test_late_and_withdrawn_ones_are_refused(cast):
    made = invite(cast).json()
    past = timezone.now() - timedelta(days=30)
    Invitation.objects.update(created_at=past, expires_at=past + timedelta(days=14))
    assert pointers(cast.sten.post("/acceptances", {"token": made["token"]})) == {"/token"}

    other = invite(cast)
    path = f"/invitations/{other.json()['id']}"
    assert cast.ola.delete(path, If_Match=other["ETag"]).status_code == 204
    assert pointers(cast.sten.post("/acceptances", {"token": other.json()["token"]})) == {"/token"}


def test_a_used_one_cannot_be_withdrawn(cast):
    made = invite(cast)
    cast.sten.post("/acceptances", {"token": made.json()["token"]})
    version = Invitation.objects.get(pk=made.json()["id"]).etag
    refused = cast.ola.delete(f"/invitations/{made.json()['id']}", If_Match=version)
    assert (refused.status_code, refused.json()["code"]) == (409, "used")


def test_a_member_does_not_join_twice(cast):
    token = invite(cast).json()["token"]
    refused = cast.ben.post("/acceptances", {"token": token})
    assert (refused.status_code, refused.json()["code"]) == (409, "already_a_member")
    assert Invitation.objects.get().used_at is None


def test_an_email_in_use_must_sign_in(cast):
    token = invite(cast).json()["token"]
    refused = cast.nobody.post("/acceptances", {"token": token, **NEW, "email": "BEN@example.org"})
    assert (refused.status_code, refused.json()["code"]) == (409, "email_in_use")


def test_a_new_account_needs_all_three(cast):
    token = invite(cast).json()["token"]
    assert pointers(cast.nobody.post("/acceptances", {"token": token})) == {
        "/email",
        "/name",
        "/password",
    }


def test_a_weak_password_is_refused_and_nothing_is_half_made(cast):
    token = invite(cast).json()["token"]
    refused = cast.nobody.post("/acceptances", {"token": token, **NEW, "password": "12345"})
    assert pointers(refused) == {"/password"}
    assert Invitation.objects.get().used_at is None


@pytest.mark.parametrize(
    ("who", "status"), [("ben", 403), ("ivy", 403), ("wim", 404), ("sten", 404), ("nobody", 401)]
)
def test_only_the_organiser_invites(cast, who, status):
    path = f"/groups/{cast.group.id}/invitations"
    assert getattr(cast, who).post(path, {"role": "buyer"}).status_code == status
    assert getattr(cast, who).get(path).status_code == status


def test_unknown_role_is_named(cast):
    assert pointers(invite(cast, "captain")) == {"/role"}


def test_a_repeat_makes_one_invitation(cast):
    first = invite(cast, Idempotency_Key="i1")
    # The token is shown once: what is kept to answer repeats holds no secret.
    assert invite(cast, Idempotency_Key="i1").json() == first.json() | {"token": None}
    assert first.json()["token"] not in IdempotencyRecord.objects.get().body
    assert Invitation.objects.count() == 1


def test_joining_unsets_agreed_shares(cast):
    Membership.objects.filter(group=cast.group, buys=True).update(share="0.3")
    cast.sten.post("/acceptances", {"token": invite(cast).json()["token"]})
    assert not Membership.objects.filter(group=cast.group).exclude(share=None).exists()
