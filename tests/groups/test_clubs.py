"""Clubs and their members."""

import pytest

from apps.groups.models import Club
from tests.conftest import pointers


@pytest.fixture
def club(cast) -> dict:
    return cast.ola.post("/clubs", {"name": "Harbour"}).json()


def join(cast, club, who, role):
    made = cast.ola.post(f"/clubs/{club['id']}/invitations", {"role": role})
    assert who.post("/acceptances", {"token": made.json()["token"]}).status_code == 201


def test_it_works(cast, club):
    assert club["own_role"] == "secretary"
    join(cast, club, cast.ben, "adviser")
    rows = cast.ben.get(f"/clubs/{club['id']}/members").json()["results"]
    assert [(row["person"]["name"], row["role"]) for row in rows] == [
        ("Ola", "secretary"),
        ("Ben", "adviser"),
    ]


def test_it_does_not_exist_for_strangers(cast, club):
    assert cast.sten.get(f"/clubs/{club['id']}").status_code == 404
    assert cast.sten.get(f"/clubs/{club['id']}/members").status_code == 404
    assert cast.sten.get("/clubs").json()["results"] == []


def test_only_the_secretary_manages(cast, club):
    join(cast, club, cast.ben, "member")
    refused = cast.ben.change("PATCH", f"/clubs/{club['id']}", {"name": "Ours"})
    assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    made = cast.ben.post(f"/clubs/{club['id']}/invitations", {"role": "member"})
    assert made.status_code == 403


def test_versions(cast, club):
    at = f"/clubs/{club['id']}"
    seen = cast.ola.get(at)["ETag"]
    assert cast.ola.patch(at, {"name": "Harbour Club"}).status_code == 428
    assert cast.ola.patch(at, {"name": "Harbour Club"}, If_Match=seen).status_code == 200
    assert cast.ola.patch(at, {"name": "Late"}, If_Match=seen).status_code == 412


def test_a_repeat_founds_one_club(cast):
    for _ in range(2):
        cast.ola.post("/clubs", {"name": "Roads"}, Idempotency_Key="c1")
    assert Club.objects.filter(name="Roads").count() == 1


def test_roles_change_and_the_last_secretary_stays(cast, club):
    join(cast, club, cast.ben, "member")
    rows = cast.ola.get(f"/clubs/{club['id']}/members").json()["results"]
    own, bens = (f"/club-members/{row['id']}" for row in rows)
    assert cast.ola.change("PUT", own, {"role": "member"}).status_code == 409
    assert cast.ola.change("PUT", bens, {"role": "secretary"}).status_code == 200
    assert cast.ola.change("PUT", own, {"role": "member"}).status_code == 200
    assert cast.ola.change("DELETE", own).status_code == 204
    assert cast.ola.get(f"/clubs/{club['id']}").status_code == 404


def test_only_its_members_found_groups_in_a_club(cast, club):
    made = cast.ola.post("/groups", {"name": "Petrel", "club_id": club["id"]})
    assert made.json()["club"] == club["id"]
    refused = cast.sten.post("/groups", {"name": "Petrel", "club_id": club["id"]})
    assert refused.status_code == 404


def test_bad_role_is_named(cast, club):
    refused = cast.ola.post(f"/clubs/{club['id']}/invitations", {"role": "captain"})
    assert pointers(refused) == {"/role"}
