"""A group asks to join a club: notifications to its secretaries, and later to the group."""

import pytest

from apps.groups.models import Club, ClubMembership
from apps.notifications.jobs import group_notify
from tests.conftest import speaker
from tests.notifications.conftest import inbox, told, types


@pytest.fixture
def harbour(cast):
    club = Club.objects.create(name="Harbour")
    sef, sue, abe = (speaker(name) for name in ("Sef", "Sue", "Abe"))
    roles = ((sef, "secretary"), (sue, "secretary"), (abe, "adviser"), (cast.ola, "member"))
    for who, role in roles:
        ClubMembership.objects.create(club=club, person=who.person, role=role)
    return club, sef, sue, abe


@pytest.fixture
def asked(cast, harbour, notify) -> str:
    """By Ola; Ben organises the group too."""
    member = next(
        row
        for row in cast.ola.get(f"/groups/{cast.group.pk}/members").json()["results"]
        if row["person"]["name"] == "Ben"
    )
    said = {"role": "organiser", "buys": True}
    assert cast.ola.change("PUT", f"/members/{member['id']}", said).status_code == 200
    notify()
    body = {"club_id": str(harbour[0].pk)}
    made = cast.ola.post(f"/groups/{cast.group.pk}/admission-requests", body)
    assert made.status_code == 201, made.content
    notify()
    return made.json()["id"]


def decide(who, asked, state):
    path = f"/admission-requests/{asked}"
    assert who.change("PATCH", path, {"state": state}).status_code == 200


def test_it_waits_for_the_secretaries_until_one_decides(cast, harbour, asked, notify):
    club, sef, sue, abe = harbour
    for who in (sef, sue):
        notification = told(who, "admission_asked")
        assert (notification["thing"], notification["thing_id"]) == ("admission_request", asked)
        assert (notification["club"]["id"], notification["group"]) == (str(club.pk), None)
        assert notification["sentence"] == "Harbour: a group asks to join."
    assert inbox(abe) == []
    decide(sef, asked, "accepted")
    notify()
    assert types(sef) == types(sue) == []


def test_the_organisers_are_told_what_the_club_said(cast, harbour, asked, notify):
    decide(harbour[1], asked, "declined")
    notify()
    for who in (cast.ola, cast.ben):
        sentence = told(who, "admission_answered")["sentence"]
        assert sentence == "Tern: Sef declined to take the group in, for the club that you asked."
    for who in (cast.bea, cast.ivy):
        assert "admission_answered" not in types(who)


def test_what_is_withdrawn_waits_for_nobody(cast, harbour, asked, notify):
    assert cast.ola.change("DELETE", f"/admission-requests/{asked}").status_code == 204
    notify()
    assert types(harbour[1]) == []


def test_leaving_is_told_to_the_group_and_to_the_secretaries(cast, harbour, asked, notify):
    _, sef, sue, abe = harbour
    decide(sef, asked, "accepted")
    notify()
    assert cast.ola.change("DELETE", f"/groups/{cast.group.pk}/club").status_code == 204
    notify()
    assert told(cast.ivy, "club_left")["sentence"] == (
        "Tern no longer belongs to its club: Ola ended it."
    )
    assert "club_left" not in types(cast.ola)  # it was her doing
    for who in (sef, sue):
        notification = told(who, "group_gone")
        assert (notification["group"], notification["facts"]) == (None, {})
        assert notification["sentence"] == "Harbour: a group has left the club."
    assert inbox(abe) == []


def test_a_group_that_is_let_go_is_told_so(cast, harbour, asked, notify):
    club, sef, sue, _ = harbour
    decide(sef, asked, "accepted")
    notify()
    assert sef.change("DELETE", f"/clubs/{club.pk}/groups/{cast.group.pk}").status_code == 204
    notify()
    for who in (cast.ola, cast.ivy):
        assert "Sef ended it" in told(who, "club_left")["sentence"]
    assert "group_gone" not in types(sef)
    assert "group_gone" in types(sue)


def test_a_second_round_tells_nothing_twice(cast, harbour, asked):
    before = inbox(harbour[1])
    assert group_notify(group_id=cast.group.pk) == 0
    assert inbox(harbour[1]) == before
