"""An existing group asks to join a club; a secretary of the club decides."""

from dataclasses import dataclass

import pytest
from django.db import IntegrityError, transaction

from apps.events.models import Event
from apps.groups.leaving import everything_leave
from apps.groups.models import AdmissionRequest, Club, ClubMembership, Group, Membership
from tests.boats.conftest import queries_of
from tests.conftest import Cast, Speaker, pointers, speaker


@dataclass
class Asking:
    """The Tern group, whose organiser Ola is a member of the Harbour club. Sef and Sue are its
    secretaries, Abe advises."""

    cast: Cast
    club: Club
    sef: Speaker
    sue: Speaker
    abe: Speaker

    @property
    def of_group(self) -> str:
        return f"/groups/{self.cast.group.pk}/admission-requests"

    @property
    def of_club(self) -> str:
        return f"/clubs/{self.club.pk}/admission-requests"

    def ask(self, who: Speaker | None = None, **more):
        return (who or self.cast.ola).post(self.of_group, {"club_id": str(self.club.pk), **more})

    def asked(self, **more) -> str:
        answer = self.ask(**more)
        assert answer.status_code == 201, answer.content
        return f"/admission-requests/{answer.json()['id']}"

    def decide(self, path: str, state: str = "accepted", who: Speaker | None = None, **more):
        return (who or self.sef).change("PATCH", path, {"state": state, **more})

    def club_now(self) -> Club | None:
        return Group.objects.get(pk=self.cast.group.pk).club


@pytest.fixture
def asking(cast) -> Asking:
    club = Club.objects.create(name="Harbour")
    roles = {"sef": "secretary", "sue": "secretary", "abe": "adviser"}
    who = {name: speaker(name.title()) for name in roles}
    for name, role in roles.items():
        ClubMembership.objects.create(club=club, person=who[name].person, role=role)
    ClubMembership.objects.create(club=club, person=cast.ola.person, role="member")
    return Asking(cast=cast, club=club, **who)


def told(cast: Cast, prefix: str = "") -> list[str]:
    events = Event.objects.filter(group=cast.group.pk, kind__startswith=prefix)
    return list(events.values_list("kind", flat=True))


def test_it_works(asking, cast):
    path = asking.asked(note="We sail from your pontoon.")
    (row,) = asking.sef.get(asking.of_club).json()["results"]
    assert row["group"] == {"id": str(cast.group.pk), "name": "Tern"}
    assert (row["asked_by"]["name"], row["note"]) == ("Ola", "We sail from your pontoon.")
    assert (row["state"], row["settled_by"], asking.club_now()) == ("waiting", None, None)
    accepted = asking.decide(path)
    assert accepted.status_code == 200, accepted.content
    assert (accepted.json()["state"], accepted.json()["settled_by"]["name"]) == ("accepted", "Sef")
    assert asking.club_now() == asking.club
    assert cast.ola.get(f"/groups/{cast.group.pk}").json()["club"] == str(asking.club.pk)
    assert told(cast)[-3:] == [
        "admission_request.asked",
        "admission_request.accepted",
        "group.joined_club",
    ]
    joined = Event.objects.get(kind="group.joined_club")
    assert joined.facts == {"club": str(asking.club.pk)}


def test_every_member_of_the_group_reads_what_became_of_it(asking, cast):
    path = asking.asked()
    asking.decide(path, "declined", reason="We have no berth left.")
    for who in (cast.ivy, cast.hal, cast.ben):
        (row,) = who.get(asking.of_group).json()["results"]
        assert (row["state"], row["reason"]) == ("declined", "We have no berth left.")
        assert who.get(path).json()["club"] == {"id": str(asking.club.pk), "name": "Harbour"}
    assert asking.club_now() is None
    assert cast.ola.get(f"{asking.of_group}?state=waiting").json()["results"] == []


def test_joining_agrees_to_nothing(asking, cast):
    asking.decide(asking.asked())
    group = cast.ola.get(f"/groups/{cast.group.pk}").json()
    assert (group["pools_with_club"], group["shares_surveys"]) == (False, False)
    assert (
        cast.ola.get(f"/groups/{cast.group.pk}/second-opinion-settings").json()["opens_yard_days"]
        is False
    )


# --- Who may -------------------------------------------------------------------------------------


def test_only_an_organiser_asks_and_withdraws(asking, cast):
    path = None
    for who in (cast.ben, cast.hal, cast.ivy):
        refused = asking.ask(who)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])
    path = asking.asked()
    for who in (cast.ben, cast.hal, cast.ivy):
        assert who.change("DELETE", path).status_code == 403
    assert cast.ola.change("DELETE", path).status_code == 204


def test_only_a_club_that_one_belongs_to_is_asked(asking, cast):
    other = Club.objects.create(name="Roads")
    body = {"club_id": str(other.pk)}
    assert cast.ola.post(asking.of_group, body).status_code == 404
    assert not AdmissionRequest.objects.exists()


def test_only_a_secretary_decides(asking, cast):
    path = asking.asked()
    for who in (asking.abe, cast.ola, cast.ivy):
        refused = who.patch(path, {"state": "accepted"}, If_Match="*")
        assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    assert asking.club_now() is None


def test_it_does_not_exist_for_strangers_another_group_or_another_club(asking, cast):
    path = asking.asked()
    rex = speaker("Rex")
    ClubMembership.objects.create(
        club=Club.objects.create(name="Roads"), person=rex.person, role="secretary"
    )
    for who in (cast.sten, cast.wim, rex):
        assert who.get(path).status_code == 404
        assert who.patch(path, {"state": "accepted"}, If_Match="*").status_code == 404
        assert who.delete(path, If_Match="*").status_code == 404
        assert who.get(asking.of_group).status_code == 404
        assert who.get(asking.of_club).status_code == 404
        assert asking.ask(who).status_code == 404
    assert cast.nobody.get(path).status_code == 401


def test_the_clubs_others_read_none_of_it(asking, cast):
    path = asking.asked()
    for at in (path, asking.of_club):
        assert asking.abe.get(at).status_code == 403
    assert asking.abe.get(asking.of_group).status_code == 404


# --- Once, and in order --------------------------------------------------------------------------


def test_one_request_is_open_at_a_time(asking, cast):
    path = asking.asked()
    again = asking.ask()
    assert (again.status_code, again.json()["code"]) == (409, "open_already")
    cast.ola.change("DELETE", path)
    asking.asked()
    assert AdmissionRequest.objects.filter(state="withdrawn").count() == 1


def test_the_database_holds_one_open_request_and_how_each_was_settled(asking, cast):
    given = {"group": cast.group, "club": asking.club, "asked_by": cast.ola.person}
    AdmissionRequest.objects.create(**given)
    for wrong in ({}, {"state": "accepted"}, {"state": "declined", "reason": "No."}):
        with pytest.raises(IntegrityError), transaction.atomic():
            AdmissionRequest.objects.create(**given, **wrong)


def test_a_group_in_a_club_asks_no_other(asking, cast):
    asking.decide(asking.asked())
    refused = asking.ask()
    assert (refused.status_code, refused.json()["code"]) == (409, "in_a_club")


def test_a_repeat_asks_once(asking, cast):
    body = {"club_id": str(asking.club.pk)}
    first, second = (cast.ola.post(asking.of_group, body, Idempotency_Key="a") for _ in range(2))
    assert first.json() == second.json()
    assert AdmissionRequest.objects.count() == 1


def test_a_client_brings_its_own_id(asking, cast, fresh_id):
    assert asking.asked(id=str(fresh_id)) == f"/admission-requests/{fresh_id}"


def test_two_secretaries_who_read_the_same_decide_once(asking, cast):
    path = asking.asked()
    seen = asking.sef.get(path)["ETag"]
    assert asking.sue.get(path)["ETag"] == seen
    assert asking.sef.patch(path, {"state": "accepted"}, If_Match=seen).status_code == 200
    late = asking.sue.patch(path, {"state": "declined"}, If_Match=seen)
    assert late.status_code == 412
    read_again = asking.decide(path, "declined", asking.sue)
    assert (read_again.status_code, read_again.json()["code"]) == (409, "not_open")
    assert asking.club_now() == asking.club


def test_without_a_version_nothing_is_decided(asking, cast):
    path = asking.asked()
    assert asking.sef.patch(path, {"state": "accepted"}).status_code == 428
    assert cast.ola.delete(path).status_code == 428


def test_what_was_withdrawn_is_not_accepted(asking, cast):
    path = asking.asked()
    seen = asking.sef.get(path)["ETag"]
    assert cast.ola.change("DELETE", path).status_code == 204
    assert asking.sef.patch(path, {"state": "accepted"}, If_Match=seen).status_code == 412
    assert asking.decide(path).status_code == 409
    assert asking.club_now() is None


def test_what_was_accepted_is_not_withdrawn(asking, cast):
    path = asking.asked()
    asking.decide(path)
    refused = cast.ola.change("DELETE", path)
    assert (refused.status_code, refused.json()["code"]) == (409, "not_open")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"state": "withdrawn"}, "/state"),
        ({"state": "accepted", "reason": "Welcome."}, "/reason"),
        ({"reason": "No."}, "/state"),
        ({"state": "accepted", "club": "x"}, "/club"),
    ],
)
def test_a_bad_decision_is_named(asking, cast, body, pointer):
    path = asking.asked()
    assert pointers(asking.sef.change("PATCH", path, body)) == {pointer}


def test_whoever_leaves_a_group_alone_withdraws_what_it_asked(asking, cast):
    asking.asked()
    Membership.objects.exclude(person=cast.ola.person).filter(group=cast.group).delete()
    everything_leave(person=cast.ola.person)
    assert AdmissionRequest.objects.get().state == "withdrawn"


def test_the_feed_tells_of_it(asking, cast):
    events = cast.ola.get("/changes").json()
    asking.asked()
    page = cast.ola.get(f"/changes?since={events['cursor']}").json()
    assert [row["kind"] for row in page["results"]] == ["admission_request.asked"]


# --- What a club's secretaries see ---------------------------------------------------------------


def test_secretaries_read_which_groups_there_are_and_nobody_else(asking, cast):
    asking.decide(asking.asked())
    at = f"/clubs/{asking.club.pk}/groups"
    (row,) = asking.sef.get(at).json()["results"]
    assert (row["name"], [one["name"] for one in row["organisers"]]) == ("Tern", ["Ola"])
    assert asking.sef.get(f"{at}/{cast.group.pk}").json()["id"] == str(cast.group.pk)
    for who in (asking.abe, cast.ola):
        assert who.get(at).status_code == 403
        assert who.get(f"{at}/{cast.group.pk}").status_code == 403
    assert cast.sten.get(at).status_code == 404
    assert asking.sef.get(f"{at}/{cast.other_group.pk}").status_code == 404


def test_constant_queries(asking, cast):
    asking.decide(asking.asked())
    lists = (f"/clubs/{asking.club.pk}/groups", asking.of_club)
    few = [queries_of(lambda at=at: asking.sef.get(at)) for at in lists]
    for n in range(4):
        group = Group.objects.create(name=f"G{n}", club=asking.club)
        Membership.objects.create(group=group, person=speaker(f"P{n}").person, role="organiser")
        AdmissionRequest.objects.create(group=group, club=asking.club, asked_by=cast.ola.person)
    assert [queries_of(lambda at=at: asking.sef.get(at)) for at in lists] == few
