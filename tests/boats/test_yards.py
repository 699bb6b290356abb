"""Yards of a group or a club: added, changed, removed, and boats that lie there."""

import pytest
from django.db import IntegrityError, transaction

from apps.boats.models import Candidate
from apps.boats.yards.models import Yard
from apps.groups.models import Club, Group
from tests.boats.conftest import add_boat, events, queries_of
from tests.conftest import Cast, pointers

# Invented.
QUAY = {
    "name": "North Quay",
    "latitude": 54.1,
    "longitude": 10.2,
    "time_zone": "Europe/Berlin",
    "opening_hours": {
        "monday": [{"opens": "08:00", "closes": "12:00"}, {"opens": "13:00", "closes": "24:00"}],
        "sunday": [],
    },
    "closed_on": ["2025-12-26", "2025-12-25"],
    "note": "Tell the office before you go in.",
}


def post(cast, who="ben", headers=None, **facts):
    path = f"/groups/{cast.group.id}/yards"
    return getattr(cast, who).post(path, {**QUAY, **facts}, **(headers or {}))


@pytest.fixture
def yard_id(cast) -> str:
    return post(cast).json()["id"]


@pytest.fixture
def club(cast: Cast) -> Club:
    """Both groups belong to it; Ola is its secretary, Hal an adviser, Bea a member."""
    club = Club.objects.create(name="Estuary")
    Group.objects.update(club=club)
    roles = ((cast.ola, "secretary"), (cast.hal, "adviser"), (cast.bea, "member"))
    for who, role in roles:
        club.memberships.create(person=who.person, role=role)
    return club


@pytest.fixture
def club_yard_id(cast, club) -> str:
    return cast.ola.post(f"/clubs/{club.pk}/yards", QUAY).json()["id"]


def test_it_works(cast):
    made = post(cast)
    assert made.status_code == 201, made.content
    read = cast.ivy.get(f"/yards/{made.json()['id']}")
    assert read["ETag"] == made["ETag"]
    yard = read.json()
    assert yard == made.json()
    said = {name: yard[name] for name in QUAY}
    assert said == {**QUAY, "closed_on": ["2025-12-25", "2025-12-26"]}
    assert yard["group"] == str(cast.group.id)
    assert yard["club"] is None
    assert events(cast.group.id)[-1] == "yard.added"


def test_hours_may_be_unknown(cast):
    yard = post(cast, opening_hours=None).json()
    assert yard["opening_hours"] is None
    body = {k: v for k, v in QUAY.items() if k not in ("opening_hours", "closed_on", "note")}
    plain = cast.ben.post(f"/groups/{cast.group.id}/yards", body).json()
    assert (plain["opening_hours"], plain["closed_on"], plain["note"]) == (None, [], "")


def test_it_does_not_exist_for_strangers(cast, yard_id):
    for stranger in (cast.sten, cast.wim):
        assert stranger.get(f"/yards/{yard_id}").status_code == 404
        assert stranger.get(f"/groups/{cast.group.id}/yards").status_code == 404
        assert stranger.post(f"/groups/{cast.group.id}/yards", QUAY).status_code == 404
        refused = stranger.send("PATCH", f"/yards/{yard_id}", {"name": "Ours"}, If_Match="*")
        assert refused.status_code == 404
        assert stranger.send("DELETE", f"/yards/{yard_id}", If_Match="*").status_code == 404
    assert Yard.objects.get().name == "North Quay"


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_a_groups_yards_are_kept_by_its_buyers(cast, yard_id, who):
    refused = post(cast, who)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "organiser"]
    assert getattr(cast, who).change("PATCH", f"/yards/{yard_id}", {}).status_code == 403
    assert getattr(cast, who).change("DELETE", f"/yards/{yard_id}").status_code == 403


def test_a_clubs_yards_are_kept_by_its_secretary_and_advisers(cast, club):
    path = f"/clubs/{club.pk}/yards"
    for keeper in (cast.ola, cast.hal):
        assert keeper.post(path, QUAY).json()["club"] == str(club.pk)
    refused = cast.bea.post(path, QUAY)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["adviser", "secretary"]
    assert cast.sten.post(path, QUAY).status_code == 404
    # Ben belongs to a group of the club and not to the club itself.
    assert cast.ben.post(path, QUAY).status_code == 404
    assert len(cast.bea.get(path).json()["results"]) == 2


def test_a_plain_member_of_the_club_is_told_so_whatever_they_send(cast, club_yard_id):
    path = f"/yards/{club_yard_id}"
    for answer in (
        cast.bea.patch(path, {"nonsense": 1}),
        cast.bea.patch(path, [], If_Match='"another"'),
        cast.bea.delete(path),
    ):
        assert (answer.status_code, answer.json()["roles"]) == (403, ["adviser", "secretary"])


def test_a_clubs_yard_is_told_to_each_of_its_groups(cast, club, club_yard_id):
    for group in (cast.group, cast.other_group):
        assert events(group.id) == ["yard.added"]


def test_a_group_uses_its_own_and_its_clubs(cast, yard_id, club_yard_id):
    listed = cast.ivy.get(f"/groups/{cast.group.id}/yards").json()["results"]
    assert [row["id"] for row in listed] == [yard_id, club_yard_id]
    theirs = cast.wim.get(f"/groups/{cast.other_group.id}/yards").json()["results"]
    assert [row["id"] for row in theirs] == [club_yard_id]
    assert cast.ivy.get(f"/yards/{club_yard_id}").status_code == 200
    assert cast.sten.get(f"/yards/{club_yard_id}").status_code == 404


def test_a_change_needs_the_version_it_is_made_from(cast, yard_id):
    path = f"/yards/{yard_id}"
    etag = cast.ben.get(path)["ETag"]
    changed = cast.bea.patch(path, {"opening_hours": None}, If_Match=etag)
    assert changed.status_code == 200, changed.content
    assert changed.json()["opening_hours"] is None
    assert changed.json()["name"] == "North Quay"
    assert cast.ben.patch(path, {"name": "Late"}, If_Match=etag).status_code == 412
    assert cast.ben.patch(path, {"name": "Late"}).status_code == 428
    assert cast.ben.delete(path, If_Match=etag).status_code == 412
    assert events(cast.group.id)[-1] == "yard.changed"


def test_a_repeat_is_answered_once(cast, fresh_id):
    first = post(cast, headers={"Idempotency_Key": "k1"}, id=str(fresh_id))
    again = post(cast, headers={"Idempotency_Key": "k1"}, id=str(fresh_id))
    assert again.json() == first.json()
    assert first.json()["id"] == str(fresh_id)
    assert post(cast, id=str(fresh_id)).status_code == 409
    assert Yard.objects.count() == 1


def hours(*spans: str) -> dict:
    pairs = (span.split("-") for span in spans)
    return {"monday": [{"opens": opens, "closes": closes} for opens, closes in pairs]}


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"name": ""}, "/name"),
        ({"latitude": 91}, "/latitude"),
        ({"longitude": "10"}, "/longitude"),
        ({"time_zone": "Atlantis"}, "/time_zone"),
        ({"time_zone": "../etc/passwd"}, "/time_zone"),
        ({"time_zone": ""}, "/time_zone"),
        ({"opening_hours": {"someday": []}}, "/opening_hours/someday"),
        ({"opening_hours": hours("08:00-25:00")}, "/opening_hours/monday/0/closes"),
        ({"opening_hours": hours("8:00-17:00")}, "/opening_hours/monday/0/opens"),
        ({"opening_hours": hours("17:00-08:00")}, "/opening_hours/monday/0"),
        ({"opening_hours": hours("08:00-08:00")}, "/opening_hours/monday/0"),
        ({"opening_hours": hours("08:00-12:00", "11:59-13:00")}, "/opening_hours/monday/1"),
        ({"opening_hours": hours("13:00-14:00", "08:00-12:00")}, "/opening_hours/monday/1"),
        ({"opening_hours": {"monday": [{"opens": "08:00"}]}}, "/opening_hours/monday/0/closes"),
        (
            {"opening_hours": hours(*[f"0{n}:00-0{n}:30" for n in range(7)])},
            "/opening_hours/monday",
        ),
        ({"closed_on": ["Christmas"]}, "/closed_on/0"),
        ({"colour": "blue"}, "/colour"),
    ],
)
def test_bad_input(cast, wrong, at):
    assert pointers(post(cast, **wrong)) == {at}
    assert not Yard.objects.exists()


# --- Boats that lie there --------------------------------------------------------------------


def lie(cast, boat_id, yard_id, who="ben"):
    place = {"place": {"yard_id": yard_id}}
    return getattr(cast, who).change("PATCH", f"/candidates/{boat_id}", place)


def test_a_boat_lies_at_a_yard_of_its_group_or_club(cast, boat_id, yard_id, club_yard_id):
    for one in (yard_id, club_yard_id):
        assert lie(cast, boat_id, one).json()["place"]["yard_id"] == one
    assert Candidate.objects.get().position == (54.1, 10.2)
    assert lie(cast, boat_id, None).json()["place"]["yard_id"] is None
    assert Candidate.objects.get().position is None


def test_her_own_place_is_nearer_the_truth(cast, list_id, yard_id):
    place = {"yard_id": yard_id, "latitude": 54.2, "longitude": 10.3}
    add_boat(cast, list_id, place=place)
    assert Candidate.objects.get().position == (54.2, 10.3)


def test_another_groups_yard_is_none(cast, list_id, boat_id, club):
    foreign = cast.wim.post(f"/groups/{cast.other_group.id}/yards", QUAY).json()["id"]
    assert pointers(lie(cast, boat_id, foreign)) == {"/place/yard_id"}
    boat = {"name": "Skua", "place": {"yard_id": foreign}}
    refused = cast.ben.post(f"/lists/{list_id}/candidates", boat)
    assert pointers(refused) == {"/place/yard_id"}
    assert Candidate.objects.get().at_yard is None


def test_a_group_in_no_club_has_no_clubs_yards(cast, boat_id):
    """A group without a club and a boat without a club are not in the same club."""
    Yard.objects.create(club=Club.objects.create(name="Far off"), **QUAY)
    assert cast.ben.get(f"/groups/{cast.group.id}/yards").json()["results"] == []


def test_boats_keep_their_place_when_the_yard_goes(cast, list_id, yard_id):
    worded = add_boat(cast, list_id, place={"yard": "The shed", "yard_id": yard_id})
    placed = {"yard_id": yard_id, "latitude": 55.0, "longitude": 11.0}
    plain, own = (add_boat(cast, list_id, place=p) for p in ({"yard_id": yard_id}, placed))
    etag = cast.ivy.get(f"/candidates/{plain}")["ETag"]
    assert cast.ben.change("DELETE", f"/yards/{yard_id}").status_code == 204
    assert not Yard.objects.exists()
    places = {
        one: cast.ivy.get(f"/candidates/{one}").json()["place"] for one in (worded, plain, own)
    }
    nowhere = {"yard_id": None}
    there = {"latitude": 54.1, "longitude": 10.2, **nowhere}
    assert places == {
        worded: {"yard": "The shed", **there},
        plain: {"yard": "North Quay", **there},
        own: {"yard": "North Quay", "latitude": 55.0, "longitude": 11.0, **nowhere},
    }
    assert cast.ivy.get(f"/candidates/{plain}")["ETag"] != etag
    assert events(cast.group.id)[-4:] == ["candidate.changed"] * 3 + ["yard.removed"]


def test_many_yards_take_no_more_queries_than_one(cast, yard_id):
    path = f"/groups/{cast.group.id}/yards"
    one = queries_of(lambda: cast.ivy.get(path))
    for _ in range(9):
        post(cast)
    assert queries_of(lambda: cast.ivy.get(path)) == one


@pytest.mark.parametrize("owners", [{}, {"club": True, "group": True}])
def test_the_database_wants_exactly_one_owner(cast, club, owners):
    whose = {"club": club, "group": cast.group}
    with pytest.raises(IntegrityError), transaction.atomic():
        Yard.objects.create(**QUAY, **{name: whose[name] for name in owners})
