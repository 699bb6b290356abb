"""What waits for whom, from when until when; settled ones disappear."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apps.groups.models import Invitation
from apps.notifications import jobs
from apps.notifications.models import EventCursor, Inbox, Notification
from apps.viewings.models import Submission
from tests.notifications.conftest import inbox, told, types

WAITING = "?kind=waiting"


def at(moment, monkeypatch, notify):
    """Run the job as if it were another time."""
    with monkeypatch.context() as changed:
        changed.setattr(timezone, "now", lambda: moment)
        return notify()


@pytest.fixture
def boat(yard):
    return yard.boat("Petrel", 26_000)


def ask(who, boat, **said):
    body = {"question": "When was the keel last off?", "asked_of": "seller", **said}
    answer = who.post(f"/candidates/{boat.pk}/follow-ups", body)
    assert answer.status_code == 201, answer.content
    return answer.json()


def plan(who, boat, starts_at, *people):
    body = {
        "starts_at": starts_at.isoformat(),
        "people": [str(one.person.pk) for one in people],
    }
    answer = who.post(f"/candidates/{boat.pk}/viewings", body)
    assert answer.status_code == 201, answer.content
    return answer.json()


def test_it_works(boat, cast, notify):
    question = ask(cast.ben, boat, assignee=str(cast.bea.person.pk))
    notify()
    found = told(cast.bea, "question_given")
    assert found["sentence"] == "Petrel: Ben asks you: When was the keel last off?"
    assert (found["thing"], found["thing_id"]) == ("follow_up", question["id"])
    assert types(cast.ben, WAITING) == []
    answered = {"state": "answered", "answer": "In 2019"}
    assert cast.ben.change("PATCH", f"/follow-ups/{question['id']}", answered).status_code == 200
    notify()
    assert types(cast.bea, WAITING) == []
    assert told(cast.bea, "question_given", "?open=false")["settled_at"]


def test_ones_own_question_waits_for_nobody(boat, cast, notify):
    ask(cast.bea, boat, assignee=str(cast.bea.person.pk))
    notify()
    assert types(cast.bea, WAITING) == []


def test_a_question_given_back_opens_the_same_notification(boat, cast, notify):
    question = ask(cast.ben, boat, assignee=str(cast.bea.person.pk))
    notify()
    first = told(cast.bea, "question_given")
    for person in (cast.hal, cast.bea):
        change = {"assignee": str(person.person.pk)}
        cast.ben.change("PATCH", f"/follow-ups/{question['id']}", change)
        notify()
    again = told(cast.bea, "question_given")
    assert (again["id"], again["read"], again["settled_at"]) == (first["id"], False, None)
    assert again["number"] > first["number"]
    assert Notification.objects.filter(person=cast.bea.person, type="question_given").count() == 1


def test_what_is_done_is_not_told_again_while_it_still_holds(boat, cast, notify):
    question = ask(cast.ben, boat, assignee=str(cast.bea.person.pk))
    notify()
    found = told(cast.bea, "question_given")
    cast.bea.change("PATCH", f"/notifications/{found['id']}", {"done": True})
    cast.ben.change("PATCH", f"/follow-ups/{question['id']}", {"question": "And the rudder?"})
    notify()
    assert types(cast.bea, WAITING) == []


def test_a_question_is_due_from_the_day_before_on_its_readers_clock(
    boat, cast, notify, monkeypatch
):
    """In Auckland (UTC+12 in June) the day begins when it is noon of the day before in UTC."""
    Inbox.objects.create(
        id=cast.bea.person.pk, person=cast.bea.person, time_zone="Pacific/Auckland"
    )
    ask(cast.ola, boat, assignee=str(cast.bea.person.pk), due_on="2031-06-10")
    notify()
    assert "question_due" not in types(cast.bea)
    noon = datetime(2031, 6, 8, 12, tzinfo=UTC)  # in Auckland the 9th begins
    at(noon - timedelta(minutes=1), monkeypatch, notify)
    assert "question_due" not in types(cast.bea)
    at(noon, monkeypatch, notify)
    assert "due 2031-06-10" in told(cast.bea, "question_due")["sentence"]


def test_time_alone_makes_a_group_due(boat, cast, notify, monkeypatch):
    soon = timezone.now() + timedelta(hours=72)
    plan(cast.ola, boat, soon, cast.bea)
    notify()
    due = EventCursor.objects.get().due_at
    assert due <= timezone.now() + timedelta(days=1)
    assert not jobs.groups_behind().exists()
    assert jobs.groups_behind(due).exists()


def test_a_visit_tomorrow_until_it_begins_then_its_report(boat, cast, notify, monkeypatch):
    begins = datetime(2031, 4, 12, 9, tzinfo=UTC)
    visit = plan(cast.ola, boat, begins, cast.bea)
    notify()
    assert types(cast.bea, WAITING) == []
    at(datetime(2031, 4, 11, 0, tzinfo=UTC), monkeypatch, notify)
    found = told(cast.bea, "visit_ahead")
    assert "12 April 2031 at 09:00" in found["sentence"]
    assert "ladders" in found["sentence"]  # the usual cautions
    at(begins, monkeypatch, notify)
    assert types(cast.bea, WAITING) == []
    at(begins + timedelta(hours=13), monkeypatch, notify)
    assert types(cast.bea, WAITING) == ["visit_unreported"]
    content = {"state": "submitted", "findings": []}
    posted = cast.bea.post(f"/viewings/{visit['id']}/submissions", content)
    assert posted.status_code == 201, posted.content
    at(begins + timedelta(hours=14), monkeypatch, notify)
    assert types(cast.bea, WAITING) == []


def test_a_sea_trial_is_called_one(boat, cast, notify, monkeypatch):
    begins = datetime(2031, 5, 3, 9, tzinfo=UTC)
    body = {
        "kind": "sea_trial",
        "starts_at": begins.isoformat(),
        "people": [str(cast.bea.person.pk)],
    }
    made = cast.ola.post(f"/candidates/{boat.pk}/viewings", body)
    assert made.status_code == 201, made.content
    at(datetime(2031, 5, 2, 0, tzinfo=UTC), monkeypatch, notify)
    ahead = told(cast.bea, "visit_ahead")["sentence"]
    assert "you go on a sea trial of her on 3 May 2031 at 09:00" in ahead
    assert "cautions" in ahead
    at(begins + timedelta(hours=13), monkeypatch, notify)
    assert "your sea trial of 3 May 2031" in told(cast.bea, "visit_unreported")["sentence"]


def test_a_visit_moved_is_another_and_one_called_off_waits_for_nobody(
    boat, cast, notify, monkeypatch
):
    visit = plan(cast.ola, boat, datetime(2031, 4, 12, 9, tzinfo=UTC), cast.bea)
    at(datetime(2031, 4, 11, 12, tzinfo=UTC), monkeypatch, notify)
    first = told(cast.bea, "visit_ahead")
    cast.ola.change("PATCH", f"/viewings/{visit['id']}", {"starts_at": "2031-04-12T15:00:00Z"})
    at(datetime(2031, 4, 11, 13, tzinfo=UTC), monkeypatch, notify)
    second = told(cast.bea, "visit_ahead")
    assert first["id"] != second["id"]
    assert "15:00" in second["sentence"]
    cast.ola.change("PATCH", f"/viewings/{visit['id']}", {"state": "called_off"})
    at(datetime(2031, 4, 11, 14, tzinfo=UTC), monkeypatch, notify)
    assert types(cast.bea, WAITING) == []


def test_an_observer_who_comes_along_reports_nothing(boat, cast, notify, monkeypatch):
    begins = datetime(2031, 4, 12, 9, tzinfo=UTC)
    plan(cast.ola, boat, begins, cast.ivy)
    at(begins + timedelta(days=2), monkeypatch, notify)
    assert types(cast.ivy, WAITING) == []


def test_a_draft_left_lying(boat, cast, notify, monkeypatch):
    visit = plan(cast.ola, boat, timezone.now() - timedelta(days=3))
    draft = {"state": "draft", "findings": []}
    made = cast.hal.post(f"/viewings/{visit['id']}/submissions", draft).json()
    notify()
    assert types(cast.hal, WAITING) == []
    Submission.objects.filter(pk=made["id"]).update(updated_at=timezone.now() - timedelta(days=2))
    at(timezone.now() + timedelta(days=1, minutes=1), monkeypatch, notify)
    assert types(cast.hal, WAITING) == ["draft_left"]
    assert types(cast.ola, WAITING) == []  # nobody else knows of it
    cast.hal.change("DELETE", f"/submissions/{made['id']}")
    notify()
    assert types(cast.hal, WAITING) == []


def test_opinions_missing_where_others_gave_theirs(spring, cast, notify):
    """Ben and Bea gave valuations on three boats and Ola on none; Ben called on Fulmar."""
    want = {"kind": "weight", "weight": 2, "subject": "free", "text": "A galley"}
    assert cast.ben.post(f"{spring.path}/wants", want).status_code == 201
    ballot = {"ranks": [[str(spring.petrel.pk)]]}
    assert cast.ben.put(f"{spring.path}/ballot", ballot).status_code in (200, 201)
    notify()
    missing = ["ballot_missing", "wants_missing"]
    assert types(cast.ola, WAITING) == sorted([*missing, *["valuation_missing"] * 3])
    assert types(cast.bea, WAITING) == sorted([*missing, "vote_missing"])
    assert types(cast.ben, WAITING) == ["judgement_missing"] * 2  # on the boats he looked at
    assert types(cast.hal, WAITING) == types(cast.ivy, WAITING) == []  # they do not buy
    sentences = [one["sentence"] for one in inbox(cast.ola, WAITING)]
    assert "Petrel: 2 others have said what she is worth to them, you have not." in sentences
    assert not any("Ben" in said or "95" in said for said in sentences)
    for boat in (spring.petrel, spring.fulmar, spring.skua):
        valuation = {"valuation": {"amount": "90000.00", "currency": "USD"}}
        assert cast.ola.put(f"/candidates/{boat.pk}/valuation", valuation).status_code in (200, 201)
    notify()
    assert types(cast.ola, WAITING) == missing


def test_of_a_boat_struck_off_nothing_is_missing(spring, cast, notify):
    for boat in (spring.petrel, spring.fulmar, spring.skua):
        body = {"stage": "struck_off", "reason": "Sold"}
        assert cast.ben.post(f"/candidates/{boat.pk}/stage-changes", body).status_code == 201
    notify()
    assert types(cast.ola, WAITING) == types(cast.bea, WAITING) == []


def test_an_invitation_that_runs_out(boat, cast, notify, monkeypatch):
    made = cast.ola.post(f"/groups/{cast.group.id}/invitations", {"role": "helper"}).json()
    notify()
    assert types(cast.ola, WAITING) == []
    ends = Invitation.objects.get(pk=made["id"]).expires_at
    at(ends - timedelta(days=1), monkeypatch, notify)
    assert types(cast.ola, WAITING) == ["invitation_runs_out"]
    at(ends, monkeypatch, notify)
    assert types(cast.ola, WAITING) == []


def test_more_people_and_things_take_no_more_queries(boat, cast, notify, yard):
    def queries(boats) -> int:
        for one in boats:
            ask(cast.ben, one, assignee=str(cast.bea.person.pk))
            ask(cast.ben, one, assignee=str(cast.hal.person.pk))
        with CaptureQueriesContext(connection) as captured:
            notify()
        return len(captured)

    boats = [yard.boat(f"Boat {n}", None) for n in range(6)]
    notify()
    few = queries([boat])
    # SQLite needs more than one statement for so many rows; nothing else grows.
    assert queries(boats) <= few + 4
