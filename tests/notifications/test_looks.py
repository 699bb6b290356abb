"""Looks asked of others of the club: told to those who are asked, and to those who asked."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.notifications.jobs import group_notify
from apps.notifications.models import Notification
from tests.notifications.conftest import inbox, told, types
from tests.second_opinions.conftest import QUESTION, Desk, desk, files, scene  # noqa: F401
from tests.system.walk import with_token

LOOKS = ("second_opinion_to_take", "second_opinion_to_answer", "second_opinion_access_ended")


@pytest.fixture
def notify_advisers(desk):  # noqa: F811
    def notify():
        return group_notify(group_id=desk.cast.group.id)

    notify()
    return notify


def test_it_works(desk: Desk, notify_advisers):  # noqa: F811
    request = desk.asked(wanted_by="2031-05-01")
    notify_advisers()
    for adviser in (desk.abe, desk.amy, desk.sef):
        found = told(adviser, "second_opinion_to_take")
        assert (found["thing"], found["thing_id"]) == ("second_opinion_request", request)
        assert found["club"]["id"] == str(desk.club.id)
        assert found["group"] is found["list"] is found["candidate"] is None
        assert found["sentence"].endswith(": a group asks for a look at a boat, by 2031-05-01.")
    assert inbox(desk.mo) == []  # belongs to the club, and advises nobody
    assignment = desk.taken(desk.abe, request)
    notify_advisers()
    assert types(desk.abe) == ["second_opinion_to_answer"]
    assert types(desk.amy) == []  # somebody has it
    assert "Abe took on the look" in told(desk.cast.ben, "second_opinion_taken")["sentence"]
    assert "second_opinion_taken" not in types(desk.cast.bea)  # she did not ask
    answered = desk.abe.post(f"{assignment}/answers", {"answer": "It is not."})
    assert answered.status_code == 201, answered.content
    notify_advisers()
    assert types(desk.abe) == []
    assert "Abe answered the look" in told(desk.cast.bea, "second_opinion_answered")["sentence"]


def test_what_advisers_are_told_holds_nothing_of_the_group(desk: Desk, notify_advisers):  # noqa: F811
    desk.taken(desk.abe)
    desk.asked(question="Another one?")
    notify_advisers()
    said = str(Notification.objects.filter(type__in=LOOKS).values_list("facts", flat=True))
    shown = str(inbox(desk.abe)) + str(inbox(desk.amy))
    for secret in (QUESTION, "Another", "Heron", "Tern", "Ben", str(desk.scene.heron.pk)):
        assert secret not in said
        assert secret not in shown


def test_whose_access_others_end_is_told_and_nothing_else_is_left(desk: Desk, notify_advisers):  # noqa: F811
    request = desk.asked()
    desk.taken(desk.abe, request)
    notify_advisers()
    ended = desk.cast.ben.change("DELETE", f"/second-opinion-requests/{request}/assignment")
    assert ended.status_code == 204, ended.content
    notify_advisers()
    assert types(desk.abe) == ["second_opinion_access_ended"]
    assert inbox(desk.abe, "?open=false") == []
    assert types(desk.amy) == ["second_opinion_to_take"]  # the desk has it again


def test_whom_the_secretary_asks_is_told_alone(desk: Desk, notify_advisers):  # noqa: F811
    request = desk.asked()
    notify_advisers()
    offered = desk.sef.post(
        f"/second-opinion-queue/{request}/offers", {"adviser": str(desk.amy.person.pk)}
    )
    assert offered.status_code in (200, 201), offered.content
    notify_advisers()
    assert types(desk.abe) == []
    assert "you are asked to take on a look" in told(desk.amy, "second_opinion_to_take")["sentence"]


def test_who_leaves_the_club_sees_nothing_of_it(desk: Desk, notify_advisers):  # noqa: F811
    desk.asked()
    notify_advisers()
    assert types(desk.abe) == ["second_opinion_to_take"]
    desk.club.memberships.filter(person=desk.abe.person).update(ended_at="2026-01-01T00:00:00Z")
    assert inbox(desk.abe) == []


def test_a_limited_token_needs_the_desks_scope(desk: Desk, notify_advisers):  # noqa: F811
    desk.asked()
    notify_advisers()
    assert inbox(with_token(desk.abe.person, scopes=["notifications:read", "lists:read"])) == []
    assert inbox(with_token(desk.abe.person, scopes=["notifications:read", "second_opinions:read"]))


@pytest.fixture
def on_the_way(desk, notify_advisers):  # noqa: F811
    """Ben goes to see Heron, and Wim's group asks him to look at a boat of theirs there."""
    theirs = desk.another_group("Plover", desk.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=desk.yard)
    visit = desk.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([desk.cast.ben.person])
    day = desk.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    request = desk.cast.wim.post(f"/yard-days/{day}/requests", body).json()["id"]
    group_notify(group_id=theirs.list.group_id)
    return theirs.list.group_id, request


def test_what_is_asked_on_the_way_stays_whatever_happens_at_home(desk, notify_advisers, on_the_way):  # noqa: F811
    """What waits in the group of whoever goes is told anew without it; it is another group's."""
    asking, request = on_the_way
    assert told(desk.cast.ben, "second_opinion_on_the_way")["thing_id"] == request
    at = f"/candidates/{desk.scene.heron.id}/follow-ups"
    asked = desk.cast.ben.post(at, {"question": "Where is the mast?", "asked_of": "seller"})
    assert asked.status_code == 201, asked.content
    notify_advisers()
    assert told(desk.cast.ben, "second_opinion_on_the_way")["thing_id"] == request
    taken = desk.cast.ben.post(f"/second-opinion-queue/{request}/assignments")
    assert taken.status_code == 201, taken.content
    group_notify(group_id=asking)
    number = told(desk.cast.ben, "second_opinion_to_answer")["number"]
    desk.cast.ben.post(at, {"question": "And the boom?", "asked_of": "seller"})
    notify_advisers()
    group_notify(group_id=asking)
    assert told(desk.cast.ben, "second_opinion_to_answer")["number"] == number
