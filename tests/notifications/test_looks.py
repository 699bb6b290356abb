"""Notifications of second opinions, to those who are asked and to those who asked."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.notifications.jobs import group_notify
from apps.notifications.models import Notification
from tests.notifications.conftest import inbox, told, types
from tests.second_opinions.conftest import QUESTION, ClubScene, asking, files, scene  # noqa: F401
from tests.system.walk import with_token

LOOKS = ("second_opinion_to_take", "second_opinion_to_answer", "second_opinion_access_ended")


@pytest.fixture
def notify_advisers(asking):  # noqa: F811
    def notify():
        return group_notify(group_id=asking.cast.group.id)

    notify()
    return notify


def test_it_works(asking: ClubScene, notify_advisers):  # noqa: F811
    request = asking.asked(wanted_by="2031-05-01")
    notify_advisers()
    for adviser in (asking.abe, asking.amy, asking.sef):
        found = told(adviser, "second_opinion_to_take")
        assert (found["thing"], found["thing_id"]) == ("second_opinion_request", request)
        assert found["club"]["id"] == str(asking.club.id)
        assert found["group"] is found["list"] is found["candidate"] is None
        assert found["sentence"].endswith(": a group asks for a look at a boat, by 2031-05-01.")
    assert inbox(asking.mo) == []  # belongs to the club, and advises nobody
    assignment = asking.taken(asking.abe, request)
    notify_advisers()
    assert types(asking.abe) == ["second_opinion_to_answer"]
    assert types(asking.amy) == []  # somebody has it
    assert "Abe took on the look" in told(asking.cast.ben, "second_opinion_taken")["sentence"]
    assert "second_opinion_taken" not in types(asking.cast.bea)  # she did not ask
    answered = asking.abe.post(f"{assignment}/answers", {"answer": "It is not."})
    assert answered.status_code == 201, answered.content
    notify_advisers()
    assert types(asking.abe) == []
    assert "Abe answered the look" in told(asking.cast.bea, "second_opinion_answered")["sentence"]


def test_what_advisers_are_told_holds_nothing_of_the_group(asking: ClubScene, notify_advisers):  # noqa: F811
    asking.taken(asking.abe)
    asking.asked(question="Another one?")
    notify_advisers()
    said = str(Notification.objects.filter(type__in=LOOKS).values_list("facts", flat=True))
    shown = str(inbox(asking.abe)) + str(inbox(asking.amy))
    for secret in (QUESTION, "Another", "Heron", "Tern", "Ben", str(asking.scene.heron.pk)):
        assert secret not in said
        assert secret not in shown


def test_whose_access_others_end_is_told_and_nothing_else_is_left(
    asking: ClubScene,  # noqa: F811
    notify_advisers,
):
    request = asking.asked()
    asking.taken(asking.abe, request)
    notify_advisers()
    ended = asking.cast.ben.change("DELETE", f"/second-opinion-requests/{request}/assignment")
    assert ended.status_code == 204, ended.content
    notify_advisers()
    assert types(asking.abe) == ["second_opinion_access_ended"]
    assert inbox(asking.abe, "?open=false") == []
    assert types(asking.amy) == ["second_opinion_to_take"]  # the club has it again


def test_whom_the_secretary_asks_is_told_alone(asking: ClubScene, notify_advisers):  # noqa: F811
    request = asking.asked()
    notify_advisers()
    offered = asking.sef.post(
        f"/second-opinion-queue/{request}/offers", {"adviser": str(asking.amy.person.pk)}
    )
    assert offered.status_code in (200, 201), offered.content
    notify_advisers()
    assert types(asking.abe) == []
    assert (
        "you are asked to take on a look" in told(asking.amy, "second_opinion_to_take")["sentence"]
    )


def test_who_leaves_the_club_sees_nothing_of_it(asking: ClubScene, notify_advisers):  # noqa: F811
    asking.asked()
    notify_advisers()
    assert types(asking.abe) == ["second_opinion_to_take"]
    asking.club.memberships.filter(person=asking.abe.person).update(ended_at="2026-01-01T00:00:00Z")
    assert inbox(asking.abe) == []


def test_a_limited_token_needs_the_desks_scope(asking: ClubScene, notify_advisers):  # noqa: F811
    asking.asked()
    notify_advisers()
    assert inbox(with_token(asking.abe.person, scopes=["notifications:read", "lists:read"])) == []
    assert inbox(
        with_token(asking.abe.person, scopes=["notifications:read", "second_opinions:read"])
    )


@pytest.fixture
def on_the_way(asking, notify_advisers):  # noqa: F811
    """Ben goes to see Heron, and Wim's group asks him to look at a boat of theirs there."""
    theirs = asking.another_group("Plover", asking.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=asking.yard)
    visit = asking.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([asking.cast.ben.person])
    day = asking.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    request = asking.cast.wim.post(f"/yard-days/{day}/requests", body).json()["id"]
    group_notify(group_id=theirs.list.group_id)
    return theirs.list.group_id, request


def test_what_is_asked_on_the_way_stays_whatever_happens_at_home(
    asking,  # noqa: F811
    notify_advisers,
    on_the_way,
):
    """The waiting notification is sent again without it, because it is another group's."""
    their_group, request = on_the_way
    assert told(asking.cast.ben, "second_opinion_on_the_way")["thing_id"] == request
    at = f"/candidates/{asking.scene.heron.id}/follow-ups"
    asked = asking.cast.ben.post(at, {"question": "Where is the mast?", "asked_of": "seller"})
    assert asked.status_code == 201, asked.content
    notify_advisers()
    assert told(asking.cast.ben, "second_opinion_on_the_way")["thing_id"] == request
    taken = asking.cast.ben.post(f"/second-opinion-queue/{request}/assignments")
    assert taken.status_code == 201, taken.content
    group_notify(group_id=their_group)
    number = told(asking.cast.ben, "second_opinion_to_answer")["number"]
    asking.cast.ben.post(at, {"question": "And the boom?", "asked_of": "seller"})
    notify_advisers()
    group_notify(group_id=their_group)
    assert told(asking.cast.ben, "second_opinion_to_answer")["number"] == number
