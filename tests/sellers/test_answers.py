"""What sellers answer: who may write it down, what is refused, what it does to particulars."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apps.events.models import Event
from apps.sellers.models import SellerAnswer
from tests.conftest import pointers


@pytest.fixture
def boat(yard):
    return yard.boat("Petrel")


def say(who, boat, **changed):
    body = {
        "checkpoint": "wire-age",
        "answer": "In 2014, by a rigger. The invoice is in the folder.",
        "level": 1,
        "particulars": {"rigging_year": 2014},
        "said_by": "owner",
        "name": "The owner",
        "said_on": "2025-03-02",
        **changed,
    }
    sent = {name: value for name, value in body.items() if value is not None}
    return who.post(f"/candidates/{boat.pk}/seller-answers", sent)


def test_it_works(cast, boat):
    made = say(cast.ben, boat)
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["checkpoint"], said["level"], said["said_by"]) == ("wire-age", 1, "owner")
    assert said["asked"].startswith("When was the standing rigging last renewed")
    assert said["added_by"]["name"] == "Ben"
    assert cast.ivy.get(f"/seller-answers/{said['id']}").json() == said
    listed = cast.ivy.get(f"/candidates/{boat.pk}/seller-answers").json()["results"]
    assert listed == [said]
    assert Event.objects.latest("number").kind == "seller_answer.added"


def test_what_it_says_of_particulars_is_claimed(cast, boat):
    say(cast.ben, boat)
    known = cast.ben.get(f"/candidates/{boat.pk}").json()
    assert known["rigging_year"] == 2014
    assert known["sources"]["rigging_year"] == "claimed"


def test_a_paper_is_not_replaced_by_a_word(cast, boat):
    facts = {"rigging_year": 2003, "sources": {"rigging_year": "documented"}}
    assert cast.ben.change("PATCH", f"/candidates/{boat.pk}", facts).status_code == 200
    said = say(cast.ben, boat).json()
    known = cast.ben.get(f"/candidates/{boat.pk}").json()
    assert (known["rigging_year"], known["sources"]["rigging_year"]) == (2003, "documented")
    assert said["particulars"] == {"rigging_year": 2014}


@pytest.mark.parametrize("before", [None, 2003])
def test_withdrawn_it_gives_the_particulars_back(cast, boat, before):
    if before:
        cast.ben.change("PATCH", f"/candidates/{boat.pk}", {"rigging_year": before})
    at = f"/seller-answers/{say(cast.ben, boat).json()['id']}"
    assert cast.ben.change("DELETE", at).status_code == 204
    assert cast.ben.get(f"/candidates/{boat.pk}").json()["rigging_year"] == before
    assert cast.ben.get(at).json()["withdrawn_at"]
    live = cast.ben.get(f"/candidates/{boat.pk}/seller-answers?live=true").json()
    assert live["results"] == []
    assert cast.ben.change("DELETE", at).status_code == 409


def test_withdrawn_it_leaves_what_somebody_stated_since(cast, boat):
    at = f"/seller-answers/{say(cast.ben, boat).json()['id']}"
    cast.bea.change("PATCH", f"/candidates/{boat.pk}", {"rigging_year": 2016})
    cast.ben.change("DELETE", at)
    assert cast.ben.get(f"/candidates/{boat.pk}").json()["rigging_year"] == 2016


def test_another_question_of_the_catalogue(cast, boat):
    made = say(
        cast.ben,
        boat,
        checkpoint=None,
        level=None,
        particulars=None,
        question="boarding",
        answer="Yes, the yard has the key and a ladder.",
        said_by="yard",
    )
    assert made.status_code == 201, made.content
    assert (made.json()["checkpoint"], made.json()["question"]) == (None, "boarding")


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"checkpoint": None}, "/question"),
        ({"question": "boarding"}, "/question"),
        ({"checkpoint": "bowsprit"}, "/checkpoint"),
        ({"checkpoint": "saildrive-seal"}, "/checkpoint"),  # she has a shaft
        ({"checkpoint": "deck-cracks", "particulars": None}, "/checkpoint"),  # nothing to ask
        ({"checkpoint": None, "question": "why-not", "level": None, "particulars": None},
         "/question"),
        ({"checkpoint": None, "question": "boarding", "particulars": None}, "/level"),
        ({"answer": ""}, "/answer"),
        ({"level": 5}, "/level"),
        ({"said_by": "oracle"}, "/said_by"),
        ({"said_on": "2099-01-01"}, "/said_on"),
        ({"particulars": {"sails_year": 2014}}, "/particulars/sails_year"),
        ({"particulars": {"rigging_year": 2190}}, "/particulars/rigging_year"),
        ({"particulars": {"bowsprit": 1}}, "/particulars/bowsprit"),
        ({"seen": True}, "/seen"),
    ],
)  # fmt: skip
def test_bad_fields_are_named(cast, boat, changed, pointer):
    refused = say(cast.ben, boat, **changed)
    assert refused.status_code == 422, refused.content
    assert pointer in pointers(refused)
    assert not SellerAnswer.objects.exists()
    boat.refresh_from_db()
    assert boat.rigging_year is None


def test_it_does_not_exist_for_strangers(cast, boat):
    at = f"/seller-answers/{say(cast.ben, boat).json()['id']}"
    for stranger in (cast.sten, cast.wim):
        assert say(stranger, boat).status_code == 404
        assert stranger.get(at).status_code == 404
        for more in ("seller-answers", "seller-questions", "seller-effect"):
            assert stranger.get(f"/candidates/{boat.pk}/{more}").status_code == 404
        assert stranger.delete(at, If_Match="x").status_code == 404
    assert cast.nobody.get(at).status_code == 401


def test_an_observer_and_a_helper_may_not_write_it_down(cast, boat):
    for who in (cast.ivy, cast.hal):
        refused = say(who, boat)
        assert refused.status_code == 403
        assert refused.json()["roles"] == ["buyer", "organiser"]


def test_only_the_author_or_an_organiser_withdraws(cast, boat):
    at = f"/seller-answers/{say(cast.ben, boat).json()['id']}"
    assert cast.bea.change("DELETE", at).status_code == 403
    assert cast.ola.change("DELETE", at).status_code == 204


def test_stale_and_missing_versions(cast, boat):
    at = f"/seller-answers/{say(cast.ben, boat).json()['id']}"
    seen = cast.ben.get(at)["ETag"]
    assert cast.ben.delete(at).status_code == 428
    assert cast.ben.delete(at, If_Match='"other"').status_code == 412
    assert cast.ben.delete(at, If_Match=seen).status_code == 204
    assert cast.ben.delete(at, If_Match=seen).status_code == 412


def test_a_repeat_is_answered_once(cast, boat, fresh_id):
    at = f"/candidates/{boat.pk}/seller-answers"
    body = {
        "id": str(fresh_id),
        "question": "boarding",
        "answer": "Yes.",
        "said_by": "broker",
    }
    first = cast.ben.post(at, body, Idempotency_Key="k")
    assert cast.ben.post(at, body, Idempotency_Key="k").json() == first.json()
    assert cast.ben.post(at, body).status_code == 409
    assert SellerAnswer.objects.count() == 1


def test_the_day_is_today_if_none_is_given(cast, boat):
    said = say(cast.ben, boat, said_on=None).json()
    today = timezone.now().date()
    assert said["said_on"] in {str(today), str(today + timedelta(days=1))}


def test_a_listing_takes_the_same_queries_for_many(cast, boat):
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert cast.ben.get(f"/candidates/{boat.pk}/seller-answers").status_code == 200
            assert cast.ben.get(f"/candidates/{boat.pk}/seller-questions").status_code == 200
        return len(asked)

    say(cast.ben, boat)
    queries()
    one = queries()
    for year in range(2000, 2006):
        say(cast.bea, boat, particulars={"rigging_year": year})
    assert queries() == one
