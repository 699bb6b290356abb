"""Several people at one request at once, on a database that lets them work at once."""

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


def advisers(opinion_settings, count: int) -> list:
    made = [speaker(f"Adviser-{n}") for n in range(count)]
    for who in made:
        ClubMembership.objects.create(club=opinion_settings.club, person=who.person, role="adviser")
        who.get("/people/me")  # a token's first use is noted
    return made


def test_of_many_advisers_one_assignments_it(opinion_settings):
    request = opinion_settings.asked()
    many = advisers(opinion_settings, 5)
    answers = at_once(*(lambda who=who: opinion_settings.assignment(who, request) for who in many))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409, 409]
    assert {a.json()["code"] for a in answers if a.status_code == 409} == {"taken"}
    assert Assignment.objects.count() == 1
    assert Step.objects.filter(kind="taken").count() == 1


def test_nobody_assignments_more_than_they_may(opinion_settings):
    opinion_settings.sef.change(
        "PATCH", f"/clubs/{opinion_settings.club.id}/second-opinion-settings", {"most_taken": 1}
    )
    boats = [
        opinion_settings.another_group(f"Group {n}", opinion_settings.cast.sten) for n in range(4)
    ]
    requests = [opinion_settings.asked(opinion_settings.cast.sten, boat) for boat in boats]
    answers = at_once(
        *(
            lambda one=one: opinion_settings.assignment(opinion_settings.abe, one)
            for one in requests
        )
    )
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    assert Assignment.objects.filter(ended_at=None).count() == 1


def test_the_same_is_asked_once(opinion_settings):
    answers = at_once(*(lambda: opinion_settings.ask() for _ in range(4)))
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409, 409]
    assert {a.json()["code"] for a in answers if a.status_code == 409} == {"open_already"}


@pytest.mark.parametrize("turn", range(4))
def test_nothing_is_submitted_once_the_access_ended(opinion_settings, turn):
    """Whichever comes first: what was answered 201 is there, and after the end nothing is new."""
    assignment = opinion_settings.visited(opinion_settings.taken())
    request = opinion_settings.request_of(assignment)
    body = {"state": "submitted", "findings": SEEN}
    version = opinion_settings.cast.ben.get(f"/second-opinion-requests/{request}/assignment")[
        "ETag"
    ]
    sent, ended = at_once(
        lambda: opinion_settings.abe.post(f"{assignment}/submissions", body),
        lambda: opinion_settings.cast.ben.delete(
            f"/second-opinion-requests/{request}/assignment", If_Match=version
        ),
    )
    assert sent.status_code in (201, 404), sent.content
    assert ended.status_code == 204, ended.content
    assert Submission.objects.count() == (1 if sent.status_code == 201 else 0)
    kinds = list(Step.objects.order_by("pk").values_list("kind", flat=True))
    assert kinds[-1] == "access_ended"
    assert opinion_settings.abe.post(f"{assignment}/submissions", body).status_code == 404


@pytest.mark.parametrize("turn", range(3))
def test_answered_and_withdrawn_at_once(opinion_settings, turn):
    assignment = opinion_settings.taken()
    request = opinion_settings.request_of(assignment)
    version = opinion_settings.cast.ben.get(f"/second-opinion-requests/{request}")["ETag"]
    answered, withdrawn = at_once(
        lambda: opinion_settings.abe.post(f"{assignment}/answers", {"answer": "Dry."}),
        lambda: opinion_settings.cast.ben.delete(
            f"/second-opinion-requests/{request}", If_Match=version
        ),
    )
    outcome = (answered.status_code, withdrawn.status_code)
    assert outcome in ((201, 412), (201, 409), (404, 204)), (answered.content, withdrawn.content)
    assert Assignment.objects.get().ended_at is not None


def a_day_at_the_quay(opinion_settings):
    """Ben and Hal go to see Heron, and Wim's group has a boat in the same yard."""
    theirs = opinion_settings.another_group("Plover", opinion_settings.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=opinion_settings.yard)
    visit = opinion_settings.scene.visit(
        starts_at=timezone.now() + timedelta(days=9), state="planned"
    )
    visit.people.set([opinion_settings.cast.ben.person, opinion_settings.cast.hal.person])
    return theirs, f"/viewings/{visit.pk}/yard-day"


def test_there_is_only_so_much_room(opinion_settings):
    theirs, path = a_day_at_the_quay(opinion_settings)
    day = opinion_settings.cast.ben.put(path, {"room": 1}).json()["id"]
    requests = [
        opinion_settings.cast.wim.post(
            f"/yard-days/{day}/requests", {"candidate": str(theirs.pk), "question": question}
        ).json()["id"]
        for question in ("How is her deck?", "And the mast?")
    ]
    answers = at_once(
        lambda: opinion_settings.assignment(opinion_settings.cast.ben, requests[0]),
        lambda: opinion_settings.assignment(opinion_settings.cast.hal, requests[1]),
    )
    assert sorted(answer.status_code for answer in answers) == [201, 409]


def test_a_visit_is_opened_once(opinion_settings):
    _, path = a_day_at_the_quay(opinion_settings)
    answers = at_once(
        *(lambda room=room: opinion_settings.cast.ben.put(path, {"room": room}) for room in (1, 2))
    )
    assert sorted(answer.status_code for answer in answers) in ([201, 412], [201, 428])


@pytest.mark.parametrize("turn", range(6))
def test_closed_while_somebody_assignments_a_boat_on(opinion_settings, turn):
    """Whichever comes first: nothing waits on a closed day, and nobody waits for the other."""
    theirs, path = a_day_at_the_quay(opinion_settings)
    day = opinion_settings.cast.ben.put(path, {"room": 3}).json()["id"]
    asks = f"/yard-days/{day}/requests"
    first = opinion_settings.cast.wim.post(
        asks, {"candidate": str(theirs.pk), "question": "Her deck?"}
    )
    version = opinion_settings.cast.ben.get(path)["ETag"]
    taken, closed, asked = at_once(
        lambda: opinion_settings.assignment(opinion_settings.cast.hal, first.json()["id"]),
        lambda: opinion_settings.cast.ben.delete(path, If_Match=version),
        lambda: opinion_settings.cast.wim.post(
            asks, {"candidate": str(theirs.pk), "question": "Her mast?"}
        ),
    )
    assert closed.status_code == 204, closed.content
    assert taken.status_code in (201, 404, 409), taken.content
    assert asked.status_code in (201, 404), asked.content
    assert not SecondOpinionRequest.objects.filter(state="waiting").exists()


@pytest.mark.parametrize("turn", range(4))
def test_taken_and_asked_while_the_group_leaves_the_club(opinion_settings, turn):
    """Whichever comes first, nothing is open and nobody has her once the group has left."""
    request = opinion_settings.asked()
    at = f"/groups/{opinion_settings.cast.group.pk}/club"
    version = opinion_settings.cast.ola.get(at)["ETag"]
    opinion_settings.abe.get("/people/me")
    taken, left, asked = at_once(
        lambda: opinion_settings.assignment(opinion_settings.abe, request),
        lambda: opinion_settings.cast.ola.delete(at, If_Match=version),
        lambda: opinion_settings.ask(question="And her deck?"),
    )
    assert left.status_code == 204, left.content
    assert taken.status_code in (201, 404, 409)
    assert asked.status_code in (201, 409)
    assert not SecondOpinionRequest.objects.filter(state__in=SecondOpinionRequest.OPEN).exists()
    assert not Assignment.objects.filter(ended_at=None).exists()
