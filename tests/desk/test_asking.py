"""A group asks its club for a look at one boat, reads what became of it, withdraws it."""

import pytest
from django.db import IntegrityError, transaction

from apps.desk.models import LookRequest
from apps.events.models import Event
from apps.groups.leaving import everything_leave
from apps.groups.models import ClubMembership, Group, Membership
from tests.boats.conftest import queries_of
from tests.conftest import pointers, speaker
from tests.desk.conftest import QUESTION


def test_it_works(desk):
    made = desk.ask(checkpoints=["joint"], wanted_by="2099-05-01")
    assert made.status_code == 201, made.content
    told = made.json()
    assert (told["state"], told["question"]) == ("waiting", QUESTION)
    assert told["checkpoints"] == ["joint"]
    assert told["asked_by"]["name"] == "Ben"
    assert told["taken_by"] is None
    assert told["submissions"] == []
    read = desk.cast.ivy.get(f"/look-requests/{told['id']}")
    assert read.json() == told
    assert read["ETag"] == made["ETag"]
    event = Event.objects.latest("number")
    assert (event.kind, str(event.thing_id)) == ("look_request.asked", told["id"])
    assert desk.steps(told["id"]) == [("asked", "Ben")]


def test_it_is_listed_for_the_boat_and_for_the_group(desk):
    first, second = desk.asked(), desk.asked(boat=desk.scene.dunlin)
    at_boat = desk.cast.ivy.get(f"/candidates/{desk.scene.heron.id}/look-requests").json()
    assert [row["id"] for row in at_boat["results"]] == [first]
    at_group = f"/groups/{desk.cast.group.id}/look-requests"
    rows = desk.cast.ivy.get(at_group).json()["results"]
    assert [row["id"] for row in rows] == [first, second]
    assert desk.cast.ivy.get(f"{at_group}?state=answered").json()["results"] == []


@pytest.mark.parametrize("who", ["sten", "wim"])
def test_it_does_not_exist_for_strangers(desk, who):
    stranger, request = getattr(desk.cast, who), desk.asked()
    assert desk.ask(stranger).status_code == 404
    for path in (
        f"/candidates/{desk.scene.heron.id}/look-requests",
        f"/groups/{desk.cast.group.id}/look-requests",
        f"/look-requests/{request}",
        f"/look-requests/{request}/steps",
        f"/look-requests/{request}/take",
    ):
        assert stranger.get(path).status_code == 404, path
        assert desk.abe.get(path).status_code == 404, path
        assert desk.cast.nobody.get(path).status_code == 401
    assert stranger.delete(f"/look-requests/{request}", If_Match="*").status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_who_does_not_buy_may_not_ask(desk, who):
    refused = desk.ask(getattr(desk.cast, who))
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "organiser"]


def test_a_group_in_no_club_has_nobody_to_ask(desk):
    Group.objects.filter(pk=desk.cast.group.pk).update(club=None)
    assert desk.ask().json()["code"] == "no_club"


def test_nobody_asks_about_a_boat_that_is_settled(desk):
    at = f"/candidates/{desk.scene.heron.id}/stage-changes"
    desk.cast.ben.post(at, {"stage": "struck_off", "reason": "Too far"})
    assert desk.ask().json()["code"] == "settled"


def test_the_same_is_asked_once(desk):
    first = desk.asked(checkpoints=["joint"])
    again = desk.ask(
        desk.cast.ola, checkpoints=["joint", "joint"], question=f"  {QUESTION.upper()}"
    )
    assert (again.status_code, again.json()["code"]) == (409, "open_already")
    desk.asked(checkpoints=[])
    desk.asked(question="And the mast?")
    assert desk.cast.ben.change("DELETE", f"/look-requests/{first}").status_code == 204
    desk.asked(checkpoints=["joint"])


def test_the_database_holds_it_too(desk):
    stored = LookRequest.objects.get(pk=desk.asked())
    stored.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        stored.save(force_insert=True)


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"question": ""}, "/question"),
        ({"question": "x" * 1001}, "/question"),
        ({"checkpoints": ["joint", "nothing"]}, "/checkpoints/1"),
        ({"wanted_by": "2020-01-01"}, "/wanted_by"),
        ({"wanted_by": "soon"}, "/wanted_by"),
        ({"misspelt": 1}, "/misspelt"),
    ],
)
def test_bad_fields_are_named(desk, changed, at):
    assert pointers(desk.ask(**changed)) == {at}
    assert not LookRequest.objects.exists()


def test_a_repeat_is_answered_once(desk, fresh_id):
    at = f"/candidates/{desk.scene.heron.id}/look-requests"
    body = {"id": str(fresh_id), "question": QUESTION}
    first = desk.cast.ben.post(at, body, Idempotency_Key="k")
    again = desk.cast.ben.post(at, body, Idempotency_Key="k")
    assert (first.status_code, again.status_code) == (201, 201)
    assert again["Idempotent-Replay"] == "true"
    assert LookRequest.objects.count() == 1


def test_a_repeat_of_somebody_who_left_gets_nothing(desk):
    at = f"/candidates/{desk.scene.heron.id}/look-requests"
    body = {"question": QUESTION}
    assert desk.cast.ben.post(at, body, Idempotency_Key="k").status_code == 201
    members = Membership.objects.filter(person=desk.cast.ben.person)
    members.update(role="observer", buys=False)
    assert desk.cast.ben.post(at, body, Idempotency_Key="k").status_code == 403
    members.update(ended_at="2025-01-01T00:00Z")
    gone = desk.cast.ben.post(at, body, Idempotency_Key="k")
    assert gone.status_code == 404
    assert "Idempotent-Replay" not in gone


# --- Withdrawing ---------------------------------------------------------------------------------


def test_it_is_withdrawn(desk):
    request = desk.asked()
    assert desk.cast.ola.change("DELETE", f"/look-requests/{request}").status_code == 204
    assert desk.seen_by(desk.abe) == []
    assert desk.cast.ben.get(f"/look-requests/{request}").json()["state"] == "withdrawn"
    assert desk.steps(request) == [("asked", "Ben"), ("withdrawn", "Ola")]
    again = desk.cast.ola.change("DELETE", f"/look-requests/{request}")
    assert again.json()["code"] == "not_open"


def test_stale_and_missing_versions(desk):
    path = f"/look-requests/{desk.asked()}"
    assert desk.cast.ben.delete(path).status_code == 428
    assert desk.cast.ben.delete(path, If_Match='"other"').status_code == 412
    assert desk.cast.ivy.change("DELETE", path).status_code == 403
    seen = desk.cast.ben.get(path)["ETag"]
    desk.taken(request_id=path.rpartition("/")[2])
    assert desk.cast.ben.delete(path, If_Match=seen).status_code == 412


def test_a_group_that_everybody_left_asks_for_nothing(desk):
    request = desk.asked()
    members = list(Membership.objects.filter(group=desk.cast.group))
    # Who leads it cannot leave before the others.
    for membership in sorted(members, key=lambda one: one.role == "organiser"):
        everything_leave(person=membership.person)
    assert LookRequest.objects.get(pk=request).state == "withdrawn"
    assert desk.seen_by(desk.abe) == []


def test_constant_queries(desk):
    paths = (
        f"/candidates/{desk.scene.heron.id}/look-requests",
        f"/groups/{desk.cast.group.id}/look-requests",
    )

    def answered(question: str) -> None:
        """By somebody new each time: nobody has a boat twice."""
        who = speaker(question)
        ClubMembership.objects.create(club=desk.club, person=who.person, role="adviser")
        take = desk.visited(desk.taken(who, question=question), who)
        assert desk.submit(take, who).status_code == 201
        assert who.post(f"{take}/answers", {"answer": "Fine"}).status_code == 201

    answered("First")
    few = [queries_of(lambda path=path: desk.cast.ivy.get(path)) for path in paths]
    for n in range(5):
        answered(f"Another-{n}")
    assert [queries_of(lambda path=path: desk.cast.ivy.get(path)) for path in paths] == few
