"""Simultaneous changes of one request, on a database with several writers."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.groups.models import ClubMembership
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step
from apps.viewings.models import Submission
from tests.conftest import speaker
from tests.second_opinions.conftest import SEEN
from tests.together import SEVERAL_WRITERS, at_once

pytestmark = SEVERAL_WRITERS


def advisers(asking, count: int) -> list:
    made = [speaker(f"Adviser-{n}") for n in range(count)]
    for who in made:
        ClubMembership.objects.create(club=asking.club, person=who.person, role="adviser")
        who.get("/people/me")  # a token's first use is noted
    return made


def test_of_many_advisers_one_takes_it_on(asking):
    request = asking.asked()
    many = advisers(asking, 5)
    answers = at_once(*(lambda who=who: asking.assignment(who, request) for who in many))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409, 409]
    assert {a.json()["code"] for a in answers if a.status_code == 409} == {"taken"}
    assert Assignment.objects.count() == 1
    assert Step.objects.filter(kind="taken").count() == 1


def test_nobody_takes_on_more_than_they_may(asking):
    asking.sef.change(
        "PATCH", f"/clubs/{asking.club.id}/second-opinion-settings", {"most_taken": 1}
    )
    boats = [asking.another_group(f"Group {n}", asking.cast.sten) for n in range(4)]
    requests = [asking.asked(asking.cast.sten, boat) for boat in boats]
    answers = at_once(*(lambda one=one: asking.assignment(asking.abe, one) for one in requests))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    assert Assignment.objects.filter(ended_at=None).count() == 1


def test_the_same_is_asked_once(asking):
    answers = at_once(*(lambda: asking.ask() for _ in range(4)))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    assert {a.json()["code"] for a in answers if a.status_code == 409} == {"open_already"}


@pytest.mark.parametrize("turn", range(4))
def test_nothing_is_submitted_once_the_access_ended(asking, turn):
    """In either order: what was answered with 201 is stored, and nothing is added after the end."""
    assignment = asking.visited(asking.taken())
    request = asking.request_of(assignment)
    body = {"state": "submitted", "findings": SEEN}
    version = asking.cast.ben.get(f"/second-opinion-requests/{request}/assignment")["ETag"]
    sent, ended = at_once(
        lambda: asking.abe.post(f"{assignment}/submissions", body),
        lambda: asking.cast.ben.delete(
            f"/second-opinion-requests/{request}/assignment", If_Match=version
        ),
    )
    assert sent.status_code in (201, 404), sent.content
    assert ended.status_code == 204, ended.content
    assert Submission.objects.count() == (1 if sent.status_code == 201 else 0)
    kinds = list(Step.objects.order_by("pk").values_list("kind", flat=True))
    assert kinds[-1] == "access_ended"
    assert asking.abe.post(f"{assignment}/submissions", body).status_code == 404


@pytest.mark.parametrize("turn", range(3))
def test_answered_and_withdrawn_at_once(asking, turn):
    assignment = asking.taken()
    request = asking.request_of(assignment)
    version = asking.cast.ben.get(f"/second-opinion-requests/{request}")["ETag"]
    answered, withdrawn = at_once(
        lambda: asking.abe.post(f"{assignment}/answers", {"answer": "Dry."}),
        lambda: asking.cast.ben.delete(f"/second-opinion-requests/{request}", If_Match=version),
    )
    outcome = (answered.status_code, withdrawn.status_code)
    assert outcome in ((201, 412), (201, 409), (404, 204)), (answered.content, withdrawn.content)
    assert Assignment.objects.get().ended_at is not None


def a_day_at_the_quay(asking):
    """Ben and Hal go to see Heron, and Wim's group has a boat in the same yard."""
    theirs = asking.another_group("Plover", asking.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=asking.yard)
    visit = asking.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([asking.cast.ben.person, asking.cast.hal.person])
    return theirs, f"/viewings/{visit.pk}/yard-day"


def test_there_is_only_so_much_room(asking):
    theirs, path = a_day_at_the_quay(asking)
    day = asking.cast.ben.put(path, {"room": 1}).json()["id"]
    requests = [
        asking.cast.wim.post(
            f"/yard-days/{day}/requests", {"candidate": str(theirs.pk), "question": question}
        ).json()["id"]
        for question in ("How is her deck?", "And the mast?")
    ]
    answers = at_once(
        lambda: asking.assignment(asking.cast.ben, requests[0]),
        lambda: asking.assignment(asking.cast.hal, requests[1]),
    )
    assert sorted(answer.status_code for answer in answers) == [201, 409]


def test_a_visit_is_opened_once(asking):
    _, path = a_day_at_the_quay(asking)
    answers = at_once(
        *(lambda room=room: asking.cast.ben.put(path, {"room": room}) for room in (1, 2))
    )
    assert sorted(answer.status_code for answer in answers) in ([201, 412], [201, 428])


@pytest.mark.parametrize("turn", range(6))
def test_closed_while_somebody_takes_a_boat_on(asking, turn):
    """In either order: nothing waits on a closed day, and no deadlock."""
    theirs, path = a_day_at_the_quay(asking)
    day = asking.cast.ben.put(path, {"room": 3}).json()["id"]
    asks = f"/yard-days/{day}/requests"
    first = asking.cast.wim.post(asks, {"candidate": str(theirs.pk), "question": "Her deck?"})
    version = asking.cast.ben.get(path)["ETag"]
    taken, closed, asked = at_once(
        lambda: asking.assignment(asking.cast.hal, first.json()["id"]),
        lambda: asking.cast.ben.delete(path, If_Match=version),
        lambda: asking.cast.wim.post(asks, {"candidate": str(theirs.pk), "question": "Her mast?"}),
    )
    assert closed.status_code == 204, closed.content
    assert taken.status_code in (201, 404, 409), taken.content
    assert asked.status_code in (201, 404), asked.content
    assert not SecondOpinionRequest.objects.filter(state="waiting").exists()


@pytest.mark.parametrize("turn", range(4))
def test_taken_and_asked_while_the_group_leaves_the_club(asking, turn):
    """In either order: once the group has left, nothing is open and nobody has the boat."""
    request = asking.asked()
    at = f"/groups/{asking.cast.group.pk}/club"
    version = asking.cast.ola.get(at)["ETag"]
    asking.abe.get("/people/me")
    taken, left, asked = at_once(
        lambda: asking.assignment(asking.abe, request),
        lambda: asking.cast.ola.delete(at, If_Match=version),
        lambda: asking.ask(question="And her deck?"),
    )
    assert left.status_code == 204, left.content
    assert taken.status_code in (201, 404, 409)
    assert asked.status_code in (201, 409)
    assert not SecondOpinionRequest.objects.filter(state__in=SecondOpinionRequest.OPEN).exists()
    assert not Assignment.objects.filter(ended_at=None).exists()
