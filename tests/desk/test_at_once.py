"""Several people at one request at once, on a database that lets them work at once."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.desk.models import LookRequest, Step, Take
from apps.groups.models import ClubMembership
from apps.viewings.models import Submission
from tests.conftest import speaker
from tests.desk.conftest import SEEN
from tests.together import SEVERAL_WRITERS, at_once

pytestmark = SEVERAL_WRITERS


def advisers(desk, count: int) -> list:
    made = [speaker(f"Adviser-{n}") for n in range(count)]
    for who in made:
        ClubMembership.objects.create(club=desk.club, person=who.person, role="adviser")
        who.get("/people/me")  # a token's first use is noted
    return made


def test_of_many_advisers_one_takes_it(desk):
    request = desk.asked()
    many = advisers(desk, 5)
    answers = at_once(*(lambda who=who: desk.take(who, request) for who in many))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409, 409]
    assert {a.json()["code"] for a in answers if a.status_code == 409} == {"taken"}
    assert Take.objects.count() == 1
    assert Step.objects.filter(kind="taken").count() == 1


def test_nobody_takes_more_than_they_may(desk):
    desk.sef.change("PATCH", f"/clubs/{desk.club.id}/desk", {"most_taken": 1})
    boats = [desk.another_group(f"Group {n}", desk.cast.sten) for n in range(4)]
    requests = [desk.asked(desk.cast.sten, boat) for boat in boats]
    answers = at_once(*(lambda one=one: desk.take(desk.abe, one) for one in requests))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    assert Take.objects.filter(ended_at=None).count() == 1


def test_the_same_is_asked_once(desk):
    answers = at_once(*(lambda: desk.ask() for _ in range(4)))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    assert {a.json()["code"] for a in answers if a.status_code == 409} == {"open_already"}


@pytest.mark.parametrize("turn", range(4))
def test_nothing_is_submitted_once_the_access_ended(desk, turn):
    """Whichever comes first: what was answered 201 is there, and after the end nothing is new."""
    take = desk.visited(desk.taken())
    request = desk.request_of(take)
    body = {"state": "submitted", "findings": SEEN}
    version = desk.cast.ben.get(f"/look-requests/{request}/take")["ETag"]
    sent, ended = at_once(
        lambda: desk.abe.post(f"{take}/submissions", body),
        lambda: desk.cast.ben.delete(f"/look-requests/{request}/take", If_Match=version),
    )
    assert sent.status_code in (201, 404), sent.content
    assert ended.status_code == 204, ended.content
    assert Submission.objects.count() == (1 if sent.status_code == 201 else 0)
    kinds = list(Step.objects.order_by("pk").values_list("kind", flat=True))
    assert kinds[-1] == "access_ended"
    assert desk.abe.post(f"{take}/submissions", body).status_code == 404


@pytest.mark.parametrize("turn", range(3))
def test_answered_and_withdrawn_at_once(desk, turn):
    take = desk.taken()
    request = desk.request_of(take)
    version = desk.cast.ben.get(f"/look-requests/{request}")["ETag"]
    answered, withdrawn = at_once(
        lambda: desk.abe.post(f"{take}/answers", {"answer": "Dry."}),
        lambda: desk.cast.ben.delete(f"/look-requests/{request}", If_Match=version),
    )
    outcome = (answered.status_code, withdrawn.status_code)
    assert outcome in ((201, 412), (201, 409), (404, 204)), (answered.content, withdrawn.content)
    assert Take.objects.get().ended_at is not None


def a_day_at_the_quay(desk):
    """Ben and Hal go to see Heron, and Wim's group has a boat in the same yard."""
    theirs = desk.another_group("Plover", desk.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=desk.yard)
    visit = desk.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([desk.cast.ben.person, desk.cast.hal.person])
    return theirs, f"/viewings/{visit.pk}/yard-day"


def test_there_is_only_so_much_room(desk):
    theirs, path = a_day_at_the_quay(desk)
    day = desk.cast.ben.put(path, {"room": 1}).json()["id"]
    requests = [
        desk.cast.wim.post(
            f"/yard-days/{day}/requests", {"candidate": str(theirs.pk), "question": question}
        ).json()["id"]
        for question in ("How is her deck?", "And the mast?")
    ]
    answers = at_once(
        lambda: desk.take(desk.cast.ben, requests[0]), lambda: desk.take(desk.cast.hal, requests[1])
    )
    assert sorted(answer.status_code for answer in answers) == [201, 409]


def test_a_visit_is_opened_once(desk):
    _, path = a_day_at_the_quay(desk)
    answers = at_once(
        *(lambda room=room: desk.cast.ben.put(path, {"room": room}) for room in (1, 2))
    )
    assert sorted(answer.status_code for answer in answers) in ([201, 412], [201, 428])


@pytest.mark.parametrize("turn", range(6))
def test_closed_while_somebody_takes_a_boat_on(desk, turn):
    """Whichever comes first: nothing waits on a closed day, and nobody waits for the other."""
    theirs, path = a_day_at_the_quay(desk)
    day = desk.cast.ben.put(path, {"room": 3}).json()["id"]
    asks = f"/yard-days/{day}/requests"
    first = desk.cast.wim.post(asks, {"candidate": str(theirs.pk), "question": "Her deck?"})
    version = desk.cast.ben.get(path)["ETag"]
    taken, closed, asked = at_once(
        lambda: desk.take(desk.cast.hal, first.json()["id"]),
        lambda: desk.cast.ben.delete(path, If_Match=version),
        lambda: desk.cast.wim.post(asks, {"candidate": str(theirs.pk), "question": "Her mast?"}),
    )
    assert closed.status_code == 204, closed.content
    assert taken.status_code in (201, 404, 409), taken.content
    assert asked.status_code in (201, 404), asked.content
    assert not LookRequest.objects.filter(state="waiting").exists()


@pytest.mark.parametrize("turn", range(4))
def test_taken_and_asked_while_the_group_leaves_the_club(desk, turn):
    """Whichever comes first, nothing is open and nobody has her once the group has left."""
    request = desk.asked()
    at = f"/groups/{desk.cast.group.pk}/club"
    version = desk.cast.ola.get(at)["ETag"]
    desk.abe.get("/people/me")
    taken, left, asked = at_once(
        lambda: desk.take(desk.abe, request),
        lambda: desk.cast.ola.delete(at, If_Match=version),
        lambda: desk.ask(question="And her deck?"),
    )
    assert left.status_code == 204, left.content
    assert taken.status_code in (201, 404, 409)
    assert asked.status_code in (201, 409)
    assert not LookRequest.objects.filter(state__in=LookRequest.OPEN).exists()
    assert not Take.objects.filter(ended_at=None).exists()
