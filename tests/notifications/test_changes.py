"""Notifications of others' actions: folded, once, and not of one's own."""

from decimal import Decimal

from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.accounts.scopes import SCOPES
from apps.boats.services import price_add, stage_change
from apps.events.models import EventSequence
from apps.notifications import jobs
from apps.notifications.jobs import groups_behind
from apps.notifications.models import EventCursor, Notification
from apps.notifications.rules.changes import CHANGES
from apps.notifications.sentences.table import SENTENCES
from apps.notifications.types import NOTIFICATION_TYPES
from tests.notifications.conftest import everything_read, inbox, told, types


def price(boat, by, amount, **said):
    return price_add(candidate=boat, by=by.person, amount=Decimal(amount), currency="USD", **said)


def test_it_works(petrel, cast, notify):
    price(petrel, cast.ben, 24_000)
    notify()
    found = told(cast.bea, "price_changed")
    assert found["kind"] == "changed"
    assert found["sentence"] == "Petrel: the asking price is 24,000 USD, it was 26,000 USD."
    assert found["candidate"] == {"id": str(petrel.pk), "name": "Petrel"}
    assert found["facts"]["by"] == [str(cast.ben.person.pk)]
    assert types(cast.ivy, "?read=false") == ["price_changed"]  # an observer reads it too


def test_nobody_is_told_of_their_own_doings(petrel, cast, notify):
    price(petrel, cast.ben, 24_000)
    notify()
    assert types(cast.ben, "?read=false") == []


def test_a_stranger_is_told_nothing(petrel, cast, notify):
    price(petrel, cast.ben, 24_000)
    notify()
    assert inbox(cast.wim) == inbox(cast.sten) == []


def test_many_changes_of_one_thing_are_one_notification_while_nobody_looked(petrel, cast, notify):
    for amount in (25_500, 25_000):
        price(petrel, cast.ben, amount)
    notify()
    price(petrel, cast.ola, 24_000)
    notify()
    found = told(cast.bea, "price_changed", "?read=false")
    assert found["times"] == 3
    assert "24,000 USD, it was 26,000 USD" in found["sentence"]
    assert set(found["facts"]["by"]) == {str(cast.ben.person.pk), str(cast.ola.person.pk)}
    # Ola did one of them herself, so her notification counts only the others'.
    assert told(cast.ola, "price_changed", "?read=false")["times"] == 2


def test_after_a_look_the_next_change_is_told_anew(petrel, cast, notify):
    price(petrel, cast.ben, 25_000)
    notify()
    everything_read(cast)
    price(petrel, cast.ben, 24_000)
    notify()
    assert "it was 25,000 USD" in told(cast.bea, "price_changed", "?read=false")["sentence"]


def test_what_is_back_where_it_was_is_no_news(petrel, cast, notify):
    stage_change(candidate=petrel, by=cast.ben.person, stage="shortlisted")
    notify()
    assert "from listed to shortlisted" in told(cast.bea, "stage_changed")["sentence"]
    stage_change(candidate=petrel, by=cast.ben.person, stage="listed")
    notify()
    assert types(cast.bea, "?read=false") == []
    (settled,) = [n for n in inbox(cast.bea, "?open=false") if n["type"] == "stage_changed"]
    assert settled["settled_at"]


def test_a_price_noted_late_changes_nothing(petrel, cast, notify):
    price(petrel, cast.ben, 29_000, asked_on=petrel.created_at.date().replace(year=2020))
    notify()
    assert types(cast.bea, "?read=false") == []


def test_the_same_events_worked_through_again_tell_nothing_twice(petrel, cast, notify):
    price(petrel, cast.ben, 25_000)
    price(petrel, cast.ben, 24_000)
    notify()
    everything_read(cast)
    before = list(Notification.objects.order_by("pk").values())
    EventCursor.objects.update(number=0)
    assert notify() > 0
    assert list(Notification.objects.order_by("pk").values()) == before


def test_whoever_joined_later_is_not_told_what_was_before(petrel, cast, notify):
    price(petrel, cast.ben, 24_000)
    membership = cast.membership(cast.ivy)
    membership.created_at = petrel.created_at.replace(year=petrel.created_at.year + 1)
    membership.save()
    notify()
    assert types(cast.ivy, "?read=false") == []
    assert types(cast.bea, "?read=false") == ["price_changed"]


def test_whoever_left_sees_nothing_of_the_group_and_nothing_is_kept(petrel, cast, notify):
    price(petrel, cast.ben, 24_000)
    notify()
    answer = cast.bea.change("DELETE", f"/members/{cast.membership(cast.bea).pk}")
    assert answer.status_code == 204, answer.content
    assert inbox(cast.bea) == []
    notify()
    assert not Notification.objects.filter(person=cast.bea.person).exists()


def test_brief_quotes_visits_and_answers(spring, cast, notify):
    notify()
    everything_read(cast)
    assert cast.ola.change("PATCH", spring.path, {"brief": {"travel_km": 300}}).status_code == 200
    assert cast.ola.change("PATCH", spring.path, {"name": "Renamed"}).status_code == 200
    at = f"/candidates/{spring.petrel.pk}"
    remedy = cast.ben.get("/remedies").json()["results"][0]["code"]
    quote = {
        "remedy": remedy,
        "price": {"amount": "900.00", "currency": "USD"},
        "firmness": "fixed",
        "from_whom": "The yard",
        "dated_on": "2025-03-20",
    }
    assert cast.ben.post(f"{at}/quotes", quote).status_code == 201
    visit = {"starts_at": "2031-04-01T10:00:00Z", "people": [str(cast.bea.person.pk)]}
    made = cast.ben.post(f"{at}/viewings", visit).json()
    off = cast.ben.change("PATCH", f"/viewings/{made['id']}", {"state": "called_off"})
    assert off.status_code == 200, off.content
    question = {"question": "Is there\nan invoice?", "asked_of": "seller"}
    asked = cast.bea.post(f"{at}/follow-ups", question).json()
    answered = {"state": "answered", "answer": "In 2019"}
    assert cast.ben.change("PATCH", f"/follow-ups/{asked['id']}", answered).status_code == 200
    notify()
    sentences = {n["type"]: n["sentence"] for n in inbox(cast.bea, "?read=false&kind=changed")}
    assert sentences == {
        "brief_changed": "Renamed: Ola changed the brief: travel km.",
        "quote_came": "Petrel: 1 price from a yard or trade came in.",
        "visit_changed": "Petrel: Ben called off the visit of 1 April 2031 at 10:00.",
        "question_answered": "Petrel: Ben answered your question: Is there an invoice?",
    }
    # Whoever neither goes there nor asked is told of the rest.
    assert types(cast.hal, "?read=false&kind=changed") == ["brief_changed", "quote_came"]


def test_a_correction_and_a_professionals_report_reach_who_looked(spring, cast, notify):
    notify()
    everything_read(cast)
    spring.yard.look(
        spring.fulmar,
        cast.ola.person,
        {"keel-joint-line": 2, "deck-cracks": 2},
        capacity="professional",
        profession="surveyor",
    )
    notify()
    for who in (cast.ben, cast.bea):  # 4 and 0 they said, and both 2 of the deck
        found = told(who, "professional_differs")
        assert found["facts"]["checkpoints"] == ["keel-joint-line"]
    assert "professional_differs" not in types(cast.hal)


def test_nothing_hidden_is_told(spring, cast, notify):
    """Others' valuations, ballots and drafts are their owners' alone."""
    notify()
    everything_read(cast)
    valuation = {"valuation": {"amount": "12345.00", "currency": "USD"}}
    assert cast.ben.put(f"/candidates/{spring.tern.pk}/valuation", valuation).status_code in (
        200,
        201,
    )
    ballot = {"ranks": [[str(spring.skua.pk)]]}
    assert cast.ben.put(f"{spring.path}/ballot", ballot).status_code in (200, 201)
    notify()
    said = str([n["facts"] for n in inbox(cast.ola)]) + str(inbox(cast.ivy))
    assert "12345" not in said
    assert str(cast.ben.person.pk) not in str([n["facts"] for n in inbox(cast.ola, "?read=false")])
    assert types(cast.ivy, "?read=false") == []


def test_every_type_has_its_words_and_every_told_type_its_line():
    assert SENTENCES.keys() == NOTIFICATION_TYPES.keys()
    assert {type.scope for type in NOTIFICATION_TYPES.values()} <= SCOPES.keys()
    assert all(len(code) <= 30 for code in NOTIFICATION_TYPES)
    assert CHANGES  # what each tells is tested above by its sentence


def test_only_groups_with_something_new_are_worked_on(petrel, cast, notify):
    assert not groups_behind().exists()
    price(petrel, cast.ben, 24_000)
    behind = groups_behind().values_list("group", flat=True)
    assert list(behind) == [cast.group.id]
    assert EventSequence.objects.count() > 0
    notify()
    assert notify() == 0


def test_a_round_that_fails_is_tried_again_later_and_loses_nothing(
    petrel, cast, notify, monkeypatch
):
    price(petrel, cast.ben, 24_000)
    with monkeypatch.context() as broken:
        broken.setattr(jobs, "changed", lambda *_: 1 / 0)
        assert notify() == 1
    event_cursor = EventCursor.objects.get()
    assert event_cursor.attempts == 1
    assert not groups_behind().exists()
    assert groups_behind(event_cursor.next_attempt_at).exists()
    EventCursor.objects.update(next_attempt_at=None)
    notify()
    assert told(cast.bea, "price_changed", "?read=false")
    assert EventCursor.objects.get().attempts == 0


def test_more_events_and_people_take_no_more_queries(petrel, cast, notify, yard):
    def queries(boats) -> int:
        for boat in boats:
            price(boat, cast.ben, 24_000)
            stage_change(candidate=boat, by=cast.ben.person, stage="shortlisted")
        with CaptureQueriesContext(connection) as captured:
            notify()
        return len(captured)

    few = queries([petrel])
    boats = [yard.boat(f"Boat {n}", 30_000) for n in range(8)]
    notify()
    everything_read(cast)
    # SQLite needs more than one statement for so many rows; nothing else grows.
    assert queries(boats) <= few + 4


def test_other_words_of_the_agreement_reach_those_who_buy(spring, cast, notify):
    notify()
    everything_read(cast)
    at = f"/groups/{cast.group.pk}/agreement"
    for topic in ("arrears", "berth"):
        assert cast.ben.put(f"{at}/{topic}", {"text": "As we said."}).status_code == 201
    notify()
    (found,) = inbox(cast.bea, "?read=false&kind=changed")
    assert found["sentence"].endswith(
        ": Ben worded what you agree as owners: Somebody does not pay and Berth and winter "
        "storage. Read it, and agree or word it anew."
    )
    assert types(cast.hal, "?read=false&kind=changed") == []
    assert types(cast.ben, "?read=false&kind=changed") == []


def test_a_survey_is_told_from_the_vote_to_the_report(spring, cast, notify):
    at = f"/candidates/{spring.petrel.pk}"
    vote = cast.ben.post(f"{at}/survey-votes", {"counted_by": "heads"}).json()["id"]
    survey = cast.ben.post(f"{at}/surveys", {"kind": "rig", "surveyor": "A rigger"}).json()["id"]
    cast.ben.post(f"/survey-votes/{vote}/closing", {})
    report = {
        "document": "Report 31",
        "looked_at": "2025-04-12T09:00:00Z",
        "findings": [{"words": "In order."}],
    }
    assert cast.ben.post(f"/surveys/{survey}/reports", report).status_code == 201
    notify()
    changed = inbox(cast.bea, "?read=false&kind=changed")
    told = {n["type"]: n["sentence"] for n in changed if n["type"].startswith("survey")}
    assert told == {
        "survey_vote_opened": "Petrel: Ben asks you to vote: shall she be surveyed?",
        "survey_vote_closed": "Petrel: the vote on a survey is closed: too few voted.",
        "survey_commissioned": "Petrel: Ben agreed a survey of her.",
        "survey_reported": "Petrel: the report of a survey is entered. The professional's "
        "judgement stands above what you saw yourselves.",
    }
    # Only buyers are asked to vote.
    assert "survey_vote_opened" not in types(cast.hal, "?read=false&kind=changed")
