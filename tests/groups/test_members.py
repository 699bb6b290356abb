"""Roles, leaving, and shares."""

import pytest

from apps.groups.models import Membership
from tests.conftest import pointers


def path_of(cast, who) -> str:
    return f"/members/{cast.membership(who).id}"


def test_it_works(cast):
    changed = cast.ola.change("PUT", path_of(cast, cast.ben), {"role": "helper", "buys": False})
    assert (changed.status_code, changed.json()["role"]) == (200, "helper")


def test_members_are_listed_without_emails(cast, django_assert_num_queries):
    cast.ivy.get("/groups")
    with django_assert_num_queries(3):  # token, membership, members
        answer = cast.ivy.get(f"/groups/{cast.group.id}/members")
    names = [row["person"]["name"] for row in answer.json()["results"]]
    assert names == ["Ola", "Ben", "Bea", "Hal", "Ivy"]
    assert b"@example.org" not in answer.content


@pytest.mark.parametrize(("who", "status"), [("ivy", 403), ("ben", 403), ("wim", 404)])
def test_only_the_organiser_changes_roles(cast, who, status):
    seen = cast.ola.get(path_of(cast, cast.hal))["ETag"]
    body = {"role": "buyer", "buys": True}
    refused = getattr(cast, who).put(path_of(cast, cast.hal), body, If_Match=seen)
    assert refused.status_code == status


def test_stale_and_missing_versions(cast):
    at, body = path_of(cast, cast.hal), {"role": "buyer", "buys": True}
    seen = cast.ola.get(at)["ETag"]
    assert cast.ola.put(at, body).status_code == 428
    assert cast.ola.put(at, body, If_Match=seen).status_code == 200
    assert cast.ola.put(at, body, If_Match=seen).status_code == 412


def test_a_helper_does_not_buy(cast):
    refused = cast.ola.change("PUT", path_of(cast, cast.hal), {"role": "helper", "buys": True})
    assert pointers(refused) == {"/buys"}


def test_the_last_organiser_stays(cast):
    refused = cast.ola.change("PUT", path_of(cast, cast.ola), {"role": "buyer", "buys": True})
    assert (refused.status_code, refused.json()["code"]) == (409, "last_organiser")
    assert cast.ola.change("DELETE", path_of(cast, cast.ola)).status_code == 409


def test_who_leaves_sees_nothing_more_and_can_come_back(cast):
    assert cast.ben.change("DELETE", path_of(cast, cast.ben)).status_code == 204
    assert cast.ben.get(f"/groups/{cast.group.id}").status_code == 404
    token = cast.ola.post(f"/groups/{cast.group.id}/invitations", {"role": "buyer"}).json()["token"]
    assert cast.ben.post("/acceptances", {"token": token}).status_code == 201
    assert Membership.objects.filter(group=cast.group, person=cast.ben.person).count() == 2


def test_a_buyer_does_not_remove_others(cast):
    assert cast.ben.change("DELETE", path_of(cast, cast.bea)).status_code == 403


def shares(cast, *parts):
    buyers = [cast.ola, cast.ben, cast.bea]
    rows = [
        {"person": str(who.person.id), "share": part}
        for who, part in zip(buyers, parts, strict=False)
    ]
    return cast.ola.change("PUT", f"/groups/{cast.group.id}/shares", {"shares": rows})


def test_shares_are_equal_until_set(cast):
    rows = cast.ivy.get(f"/groups/{cast.group.id}/shares").json()["shares"]
    assert {row["share"] for row in rows} == {"0.333333"}
    assert shares(cast, "0.5", "0.3", "0.2").status_code == 200
    rows = cast.ivy.get(f"/groups/{cast.group.id}/shares").json()["shares"]
    assert [row["share"] for row in rows] == ["0.500000", "0.300000", "0.200000"]


@pytest.mark.parametrize("parts", [("0.5", "0.3", "0.3"), ("0.5", "0.5"), ("1", "0.5", "-0.5")])
def test_shares_that_do_not_fit_are_refused(cast, parts):
    refused = shares(cast, *parts)
    assert all(at.startswith("/shares") for at in pointers(refused))
    assert not Membership.objects.exclude(share=None).exists()


def test_shares_may_be_set_by_the_organiser_only(cast):
    at = f"/groups/{cast.group.id}/shares"
    assert cast.ben.change("PUT", at, {"shares": []}).status_code == 403
    assert cast.ola.put(at, {"shares": []}).status_code == 428
    assert cast.wim.get(at).status_code == 404
