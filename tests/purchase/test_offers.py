"""Offers for a boat, the seller's counters, and what becomes of them."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.appraisal.compute.inputs import read_inputs
from apps.boats.models import StageChange
from apps.events.models import Event
from apps.purchase.offers.models import Offer
from apps.purchase.offers.services import offers_lapse
from tests.conftest import pointers


def offer(scene, who=None, amount="17500.00", **changed):
    body = {
        "price": {"amount": amount, "currency": "EUR"},
        "offered_on": "2025-05-02",
        "conditions": [{"code": "survey", "until": "2025-05-20"}, {"code": "title"}],
        "note": "By mail to the broker",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/offers", body)


def answer(scene, at, state, who=None, **more):
    return (who or scene.cast.ben).change("PATCH", at, {"state": state, **more})


def stage(scene):
    scene.heron.refresh_from_db()
    return scene.heron.stage


def move(scene, to, who=None):
    body = {"stage": to, "reason": "So be it"}
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/stage-changes", body)


@pytest.fixture
def at(scene):
    return f"/offers/{offer(scene).json()['id']}"


def test_it_works(scene):
    before, stage_before = scene.revision(), stage(scene)
    made = offer(scene)
    assert made.status_code == 201, made.content
    said = made.json()
    assert said["price"] == {"amount": "17500.00", "currency": "EUR"}
    assert (said["side"], said["state"], said["on_the_table"]) == ("buyers", "made", True)
    assert said["conditions"] == [
        {"code": "survey", "until": "2025-05-20"},
        {"code": "title", "until": None},
    ]
    assert said["added_by"]["name"] == "Ben"
    read = scene.cast.ivy.get(f"/offers/{said['id']}")
    assert read.json() == said
    assert read["ETag"] == made["ETag"]
    assert (stage(scene), Offer.objects.get().stage_before) == ("offer", stage_before)
    assert scene.revision() > before
    event = Event.objects.latest("number")
    assert (event.kind, str(event.thing_id)) == ("offer.made", said["id"])


def test_a_counter_answers_it_and_the_last_price_is_on_the_table(scene, at):
    countered = offer(scene, amount="19000.00", side="seller", offered_on="2025-05-04")
    assert countered.status_code == 201
    first = scene.cast.ivy.get(at).json()
    assert (first["state"], first["settled_on"], first["on_the_table"]) == (
        "countered",
        "2025-05-04",
        False,
    )
    listed = scene.cast.ivy.get(f"/candidates/{scene.heron.id}/offers").json()["results"]
    assert [one["side"] for one in listed] == ["buyers", "seller"]
    assert Offer.objects.filter(state="made").count() == 1
    # Counters do not forget where she came from.
    assert {one.stage_before for one in Offer.objects.all()} != {"offer"}


@pytest.mark.parametrize("state", ["refused", "withdrawn"])
def test_a_failed_offer_brings_the_boat_back(scene, state):
    came_from = stage(scene)
    at = f"/offers/{offer(scene).json()['id']}"
    offer(scene, amount="18000.00")
    at = f"/offers/{Offer.objects.get(state='made').pk}"
    settled = answer(scene, at, state, reason="Too far apart", settled_on="2025-05-06")
    assert settled.status_code == 200, settled.content
    assert (settled.json()["state"], settled.json()["on_the_table"]) == (state, False)
    assert stage(scene) == came_from
    change = StageChange.objects.latest("created_at")
    assert change.reason == f"The offer of 18000.00 EUR was {state}. Too far apart"
    again = answer(scene, at, "accepted")
    assert (again.status_code, again.json()["code"]) == (409, "answered_already")


def test_an_accepted_offer_lets_her_be_bought_and_may_still_fail(scene, at):
    assert answer(scene, at, "accepted").status_code == 200
    assert stage(scene) == "offer"
    again = answer(scene, at, "accepted")
    assert (again.status_code, again.json()["code"]) == (409, "answered_already")
    assert move(scene, "bought").status_code == 201
    # Bought all the same: the boat stays where somebody moved her.
    assert answer(scene, at, "withdrawn", reason="The survey").status_code == 200
    assert stage(scene) == "bought"


def test_after_the_survey_another_price_answers_the_accepted_one(scene, at):
    answer(scene, at, "accepted")
    lower = offer(scene, amount="15000.00", offered_on="2025-05-22", conditions=[])
    assert lower.status_code == 201
    assert scene.cast.ivy.get(at).json()["state"] == "countered"
    assert answer(scene, f"/offers/{lower.json()['id']}", "accepted").status_code == 200


def test_her_stage_stays_while_an_offer_is_on_the_table(scene, at):
    for to in ("struck_off", "bought", "shortlisted"):
        refused = move(scene, to)
        assert (refused.status_code, refused.json()["code"]) == (409, "offer_on_the_table")
    assert stage(scene) == "offer"
    answer(scene, at, "withdrawn")
    assert move(scene, "struck_off").status_code == 201


def test_no_offer_for_a_boat_that_is_struck_off(scene):
    move(scene, "struck_off")
    refused = offer(scene)
    assert (refused.status_code, refused.json()["code"]) == (409, "not_for_sale_to_you")
    assert not Offer.objects.exists()


def test_what_is_not_answered_in_time_lapses(scene):
    came_from, day = stage(scene), date(2025, 5, 9)
    offer(scene, answer_by=day.isoformat())
    assert offers_lapse(day) == 0
    assert offers_lapse(day + timedelta(days=1)) == 1
    assert offers_lapse(day + timedelta(days=1)) == 0
    lapsed = Offer.objects.get()
    assert (lapsed.state, lapsed.settled_on, stage(scene)) == ("lapsed", day, came_from)
    assert "lapsed on 2025-05-09" in StageChange.objects.latest("created_at").reason
    assert Event.objects.filter(kind="offer.lapsed", by_id=None).exists()


def test_results_reckon_with_the_price_on_the_table(scene, at):
    def price():
        boats = {boat.id: boat.offer for boat in read_inputs(scene.list.id).boats}
        return boats[scene.heron.id] and boats[scene.heron.id].amount

    assert price() == 17_500
    offer(scene, amount="19000.00", side="seller")
    assert price() == 19_000
    answer(scene, f"/offers/{Offer.objects.get(state='made').pk}", "refused")
    assert price() is None


def test_bad_offers_are_refused_at_their_field(scene):
    ahead = (timezone.localdate() + timedelta(days=9)).isoformat()
    for changed, at in (
        ({"price": {"amount": "1.00", "currency": "NOK"}}, "/price/currency"),
        ({"offered_on": ahead, "conditions": []}, "/offered_on"),
        ({"answer_by": "2025-05-01"}, "/answer_by"),
        ({"conditions": [{"code": "survey", "until": "2025-05-01"}]}, "/conditions/0/until"),
        ({"conditions": [{"code": "survey"}, {"code": "survey"}]}, "/conditions/1/code"),
        ({"conditions": [{"code": "weather"}]}, "/conditions/0/code"),
        ({"conditions": [{"code": "survey", "by": "us"}]}, "/conditions/0/by"),
        ({"side": "broker"}, "/side"),
    ):
        assert pointers(offer(scene, **changed)) == {at}
    assert not Offer.objects.exists()


def test_bad_answers_are_refused_at_their_field(scene, at):
    assert pointers(answer(scene, at, "lapsed")) == {"/state"}
    assert pointers(answer(scene, at, "refused", settled_on="2025-05-01")) == {"/settled_on"}
    assert scene.cast.ivy.get(at).json()["state"] == "made"


def test_who_may_not(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert offer(scene, stranger).status_code == 404
        assert stranger.get(at).status_code == 404
        assert stranger.get(f"/candidates/{scene.heron.id}/offers").status_code == 404
        assert stranger.patch(at, {"state": "accepted"}, If_Match="*").status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401
    for who in (scene.cast.ivy, scene.cast.hal):
        assert offer(scene, who).status_code == 403
        assert answer(scene, at, "accepted", who).status_code == 403
    assert scene.cast.ivy.get(at).json()["state"] == "made"


def test_a_stale_answer_changes_nothing(scene, at):
    etag = scene.cast.bea.get(at)["ETag"]
    answer(scene, at, "accepted")
    late = scene.cast.bea.send("PATCH", at, {"state": "withdrawn"}, If_Match=etag)
    assert late.status_code == 412
    assert scene.cast.bea.send("PATCH", at, {"state": "withdrawn"}).status_code == 428
    assert scene.cast.ivy.get(at).json()["state"] == "accepted"


def test_a_repeat_makes_no_second_offer(scene):
    body = {"price": {"amount": "17500.00", "currency": "EUR"}, "offered_on": "2025-05-02"}
    path = f"/candidates/{scene.heron.id}/offers"
    first, again = (
        scene.cast.ben.send("POST", path, body, Idempotency_Key="one offer") for _ in range(2)
    )
    assert first.json() == again.json()
    assert Offer.objects.count() == 1


def test_constant_queries(scene, at, django_assert_num_queries):
    listing = f"/candidates/{scene.heron.id}/offers"
    scene.cast.ivy.get(listing)  # a token's first use is noted
    # token, candidate, page
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    for nth in range(6):
        offer(scene, amount=f"{18_000 + nth}.00")
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 7


def test_the_database_keeps_one_offer_on_the_table(scene, at):
    stored = Offer.objects.get()
    for wrong in ({"state": "made"}, {"state": "accepted", "settled_on": date(2025, 5, 3)}):
        other = Offer(
            candidate=scene.heron, amount=1, currency="EUR", offered_on=date(2025, 5, 3),
            stage_before="viewing", added_by=stored.added_by, **wrong,
        )  # fmt: skip
        with pytest.raises(IntegrityError), transaction.atomic():
            other.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        Offer.objects.update(state="refused")  # on no day
