"""A group asks its club to look at one boat, reads the result, withdraws the request."""

import pytest
from django.db import IntegrityError, transaction

from apps.events.models import Event
from apps.groups.leaving import everything_leave
from apps.groups.models import ClubMembership, Group, Membership
from apps.second_opinions.models import SecondOpinionRequest
from tests.boats.conftest import queries_of
from tests.conftest import pointers, speaker
from tests.second_opinions.conftest import QUESTION


def test_it_works(asking):
    made = asking.ask(checkpoints=["joint"], wanted_by="2099-05-01")
    assert made.status_code == 201, made.content
    told = made.json()
    assert (told["state"], told["question"]) == ("waiting", QUESTION)
    assert told["checkpoints"] == ["joint"]
    assert told["asked_by"]["name"] == "Ben"
    assert told["taken_by"] is None
    assert told["submissions"] == []
    read = asking.cast.ivy.get(f"/second-opinion-requests/{told['id']}")
    assert read.json() == told
    assert read["ETag"] == made["ETag"]
    event = Event.objects.latest("number")
    assert (event.kind, str(event.thing_id)) == ("second_opinion_request.asked", told["id"])
    assert asking.steps(told["id"]) == [("asked", "Ben")]


def test_it_is_listed_for_the_boat_and_for_the_group(asking):
    first, second = (
        asking.asked(),
        asking.asked(boat=asking.scene.dunlin),
    )
    at_boat = asking.cast.ivy.get(
        f"/candidates/{asking.scene.heron.id}/second-opinion-requests"
    ).json()
    assert [row["id"] for row in at_boat["results"]] == [first]
    at_group = f"/groups/{asking.cast.group.id}/second-opinion-requests"
    rows = asking.cast.ivy.get(at_group).json()["results"]
    assert [row["id"] for row in rows] == [first, second]
    assert asking.cast.ivy.get(f"{at_group}?state=answered").json()["results"] == []


@pytest.mark.parametrize("who", ["sten", "wim"])
def test_it_does_not_exist_for_strangers(asking, who):
    stranger, request = getattr(asking.cast, who), asking.asked()
    assert asking.ask(stranger).status_code == 404
    for path in (
        f"/candidates/{asking.scene.heron.id}/second-opinion-requests",
        f"/groups/{asking.cast.group.id}/second-opinion-requests",
        f"/second-opinion-requests/{request}",
        f"/second-opinion-requests/{request}/steps",
        f"/second-opinion-requests/{request}/assignment",
    ):
        assert stranger.get(path).status_code == 404, path
        assert asking.abe.get(path).status_code == 404, path
        assert asking.cast.nobody.get(path).status_code == 401
    assert stranger.delete(f"/second-opinion-requests/{request}", If_Match="*").status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_who_does_not_buy_may_not_ask(asking, who):
    refused = asking.ask(getattr(asking.cast, who))
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "organiser"]


def test_a_group_in_no_club_has_nobody_to_ask(asking):
    Group.objects.filter(pk=asking.cast.group.pk).update(club=None)
    assert asking.ask().json()["code"] == "no_club"


def test_nobody_asks_about_a_boat_that_is_settled(asking):
    at = f"/candidates/{asking.scene.heron.id}/stage-changes"
    asking.cast.ben.post(at, {"stage": "struck_off", "reason": "Too far"})
    assert asking.ask().json()["code"] == "settled"


def test_the_same_is_asked_once(asking):
    first = asking.asked(checkpoints=["joint"])
    again = asking.ask(
        asking.cast.ola, checkpoints=["joint", "joint"], question=f"  {QUESTION.upper()}"
    )
    assert (again.status_code, again.json()["code"]) == (409, "open_already")
    asking.asked(checkpoints=[])
    asking.asked(question="And the mast?")
    assert asking.cast.ben.change("DELETE", f"/second-opinion-requests/{first}").status_code == 204
    asking.asked(checkpoints=["joint"])


def test_the_database_holds_it_too(asking):
    stored = SecondOpinionRequest.objects.get(pk=asking.asked())
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
def test_bad_fields_are_named(asking, changed, at):
    assert pointers(asking.ask(**changed)) == {at}
    assert not SecondOpinionRequest.objects.exists()


def test_a_repeat_is_answered_once(asking, fresh_id):
    at = f"/candidates/{asking.scene.heron.id}/second-opinion-requests"
    body = {"id": str(fresh_id), "question": QUESTION}
    first = asking.cast.ben.post(at, body, Idempotency_Key="k")
    again = asking.cast.ben.post(at, body, Idempotency_Key="k")
    assert (first.status_code, again.status_code) == (201, 201)
    assert again["Idempotent-Replay"] == "true"
    assert SecondOpinionRequest.objects.count() == 1


def test_a_repeat_of_somebody_who_left_gets_nothing(asking):
    at = f"/candidates/{asking.scene.heron.id}/second-opinion-requests"
    body = {"question": QUESTION}
    assert asking.cast.ben.post(at, body, Idempotency_Key="k").status_code == 201
    members = Membership.objects.filter(person=asking.cast.ben.person)
    members.update(role="observer", buys=False)
    assert asking.cast.ben.post(at, body, Idempotency_Key="k").status_code == 403
    members.update(ended_at="2025-01-01T00:00Z")
    gone = asking.cast.ben.post(at, body, Idempotency_Key="k")
    assert gone.status_code == 404
    assert "Idempotent-Replay" not in gone


# --- Withdrawing ---------------------------------------------------------------------------------


def test_it_is_withdrawn(asking):
    request = asking.asked()
    assert (
        asking.cast.ola.change("DELETE", f"/second-opinion-requests/{request}").status_code == 204
    )
    assert asking.seen_by(asking.abe) == []
    assert asking.cast.ben.get(f"/second-opinion-requests/{request}").json()["state"] == "withdrawn"
    assert asking.steps(request) == [("asked", "Ben"), ("withdrawn", "Ola")]
    again = asking.cast.ola.change("DELETE", f"/second-opinion-requests/{request}")
    assert again.json()["code"] == "not_open"


def test_stale_and_missing_versions(asking):
    path = f"/second-opinion-requests/{asking.asked()}"
    assert asking.cast.ben.delete(path).status_code == 428
    assert asking.cast.ben.delete(path, If_Match='"other"').status_code == 412
    assert asking.cast.ivy.change("DELETE", path).status_code == 403
    seen = asking.cast.ben.get(path)["ETag"]
    asking.taken(request_id=path.rpartition("/")[2])
    assert asking.cast.ben.delete(path, If_Match=seen).status_code == 412


def test_a_group_that_everybody_left_asks_for_nothing(asking):
    request = asking.asked()
    members = list(Membership.objects.filter(group=asking.cast.group))
    # The organiser cannot leave before the others.
    for membership in sorted(members, key=lambda one: one.role == "organiser"):
        everything_leave(person=membership.person)
    assert SecondOpinionRequest.objects.get(pk=request).state == "withdrawn"
    assert asking.seen_by(asking.abe) == []


def test_constant_queries(asking):
    paths = (
        f"/candidates/{asking.scene.heron.id}/second-opinion-requests",
        f"/groups/{asking.cast.group.id}/second-opinion-requests",
    )

    def answered(question: str) -> None:
        """An answered request, each by a new adviser, because nobody gets a boat twice."""
        who = speaker(question)
        ClubMembership.objects.create(club=asking.club, person=who.person, role="adviser")
        assignment = asking.visited(asking.taken(who, question=question), who)
        assert asking.submit(assignment, who).status_code == 201
        assert who.post(f"{assignment}/answers", {"answer": "Fine"}).status_code == 201

    answered("First")
    few = [queries_of(lambda path=path: asking.cast.ivy.get(path)) for path in paths]
    for n in range(5):
        answered(f"Another-{n}")
    assert [queries_of(lambda path=path: asking.cast.ivy.get(path)) for path in paths] == few
