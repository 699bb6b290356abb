"""What to offer for a boat: limits, a plan, what moves them, and what to ask the seller."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.utils import timezone

from apps.appraisal.compute.costing import missing_for_cost, purchase_of
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.words.offering import limits, plan
from apps.appraisal.words.phrases import Names
from apps.boats.models import Candidate, Valuation
from apps.purchase.offers.facts import LiveOffer
from apps.purchase.offers.services import offer_make
from tests.appraisal.building import Yard, load_catalogue, surveyed


def amount(money) -> float:
    return float(money["amount"])


def advice(who, boat):
    answer = who.get(f"/candidates/{boat.pk}/offer-advice")
    assert answer.status_code == 200
    return answer.json()


def within_at(who, spring, boat, price) -> float:
    """The chance of staying within the budget with this asking price, by what-if."""
    body = {
        "prices": [
            {"candidate_id": str(boat.pk), "asking": {"amount": f"{price}.00", "currency": "USD"}}
        ]
    }
    rows = who.post(f"{spring.path}/what-if", body).json()["candidates"]
    row = next(one for one in rows if one["candidate_id"] == str(boat.pk))
    return row["then"]["within_budget"]


@pytest.fixture
def certain_price(spring):
    """Sellers get what they ask, so that a what-if of the asking price is one of the price."""
    the_list = spring.yard.list
    the_list.expected_price_share, the_list.expected_price_share_sd = Decimal(1), Decimal(0)
    the_list.save()
    spring.yard.recompute()
    return spring


def test_it_works(spring, cast):
    said = advice(cast.ben, spring.petrel)
    offering = said["offering"]
    limits, plan = offering["limits"], offering["plan"]
    known = [amount(limits[name]) for name in ("within_budget", "at_par", "next_best")]
    assert amount(plan["walk_away"]) == min(known)
    assert amount(plan["opening"]) <= amount(plan["target"]) <= amount(plan["walk_away"])
    assert limits["valued"] is True
    assert offering["plan_sentence"].startswith(("Open at", "Stop at"))
    assert any("survey of your own choosing" in one for one in said["sentences"])
    assert any("law of the place of sale" in one for one in said["sentences"])
    assert "not a survey" in said["caution"]


def test_a_step_over_the_limit_breaks_the_budget(certain_price, cast):
    """To the unit, computed again by what-if at that price."""
    boat = certain_price.petrel
    offering = advice(cast.ben, boat)["offering"]
    price, confidence = amount(offering["limits"]["within_budget"]), offering["confidence"]
    assert within_at(cast.ben, certain_price, boat, int(price)) >= confidence - 0.01
    # Work in proportion to her price moves with what is asked, but not with what is offered.
    assert within_at(cast.ben, certain_price, boat, int(price * 1.05)) < confidence + 0.01


def test_more_sure_is_cheaper_and_work_takes_from_the_price(spring, cast):
    offering = advice(cast.ben, spring.petrel)["offering"]
    found = offering["sensitivity"]
    prices = [one["price"] and amount(one["price"]) for one in found["by_confidence"]]
    assert prices == sorted(prices, reverse=True)
    within = amount(offering["limits"]["within_budget"])
    assert 800 < within - amount(found["more_work"]) < 1_001
    assert amount(found["dearer_yard"]) <= within <= amount(found["cheaper_yard"])
    assert len(offering["sensitivity_sentences"]) == 3


def test_what_the_seller_could_be_asked_is_safety_first(spring, cast):
    spring.yard.look(spring.fulmar, cast.hal.person, {"keel-joint-line": 4, "engine-oil": 4})
    spring.yard.recompute()
    asks = advice(cast.ben, spring.fulmar)["offering"]["asks"]
    assert asks["items"]
    rank = [(not one["safety"], one["urgency"] != "now") for one in asks["items"]]
    assert rank == sorted(rank)
    for one in asks["items"]:
        assert one["if_put_right"] >= asks["within"] - 0.001
        assert one["if_taken_off"] >= asks["within"] - 0.001
        assert one["title"] in one["sentence"]
        assert one["professional"] is False
    assert asks["if_put_right"] >= max(one["if_put_right"] for one in asks["items"])


def test_valuations_of_others_do_not_show(spring, cast):
    """Ola valued nothing: her advice rests on the budget alone, whatever others think."""
    before = advice(cast.ola, spring.petrel)
    assert before["offering"]["limits"]["valued"] is False
    assert before["offering"]["limits"]["at_par"] is None
    assert before["offering"]["plan"]["walk_away"] == before["offering"]["limits"]["within_budget"]
    assert any("hidden" in one for one in before["sentences"])
    for one in Valuation.objects.filter(candidate=spring.petrel):
        one.amount *= 3
        one.save()
    spring.yard.recompute()
    after = advice(cast.ola, spring.petrel)
    assert after["offering"] == before["offering"]
    assert advice(cast.ben, spring.petrel)["offering"]["limits"]["at_par"] is not None


def test_an_offer_on_the_table_is_the_price(spring, cast):
    boat = spring.petrel
    before = advice(cast.ben, boat)["offering"]
    offer_make(
        candidate=boat,
        by=cast.ben.person,
        amount=Decimal(9_000),
        currency="USD",
        offered_on=date(2025, 5, 2),
    )
    spring.yard.recompute()
    after = advice(cast.ben, boat)["offering"]
    assert (amount(after["price"]), after["offered"]) == (9_000, True)
    assert (before["offered"], after["asking"]) == (False, before["asking"])
    # It changes the price, not what she is: the limits stay, but for the noise of the draws.
    for name in ("within_budget", "at_par"):
        assert amount(after["limits"][name]) == pytest.approx(
            amount(before["limits"][name]), rel=0.02
        )
    rollup = cast.ben.get(f"/candidates/{boat.pk}/rollup").json()["rollup"]
    assert amount(rollup["parts"]["price"]) == 9_000
    steps = cast.ben.get(f"/candidates/{boat.pk}/explanation").json()["waterfall"]
    assert (steps[0]["of"], steps[0]["label"]) == ("offer", "Offer on the table")
    assert amount(steps[0]["amount"]) == 9_000


def test_a_boat_that_is_behind_at_any_price_is_said_to_be():
    limit = {"amount": "34000.00", "currency": "USD"}
    over = {"within_budget": limit, "at_par": limit, "next_best": None, "valued": True}
    stored = {"plan": None, "confidence": 0.8, "limits": {**over, "next_best_is": "p"}}
    names = Names(boats={"p": "Petrel"})
    assert plan(stored, names) == "As things stand, Petrel is better at any price of hers."
    assert limits(stored, names)[2].endswith("the risk to the budget counted: at no price.")


def test_without_a_price_there_is_no_advice(spring, cast):
    said = advice(cast.ben, spring.tern)
    assert said["offering"] is None
    assert said["why_none"] == {
        "code": "not_priced",
        "missing": ["asking_price"],
        "sentence": "She cannot be priced: nobody gave an asking price.",
    }
    assert advice(cast.ben, spring.petrel)["why_none"] is None


def test_it_says_which_exchange_rate_is_missing(spring, cast):
    Candidate.objects.filter(pk=spring.petrel.pk).update(asking_currency="GBP")
    spring.yard.recompute()
    why = advice(cast.ben, spring.petrel)["why_none"]
    assert (why["code"], why["missing"]) == ("not_priced", ["exchange_rate:GBP"])
    assert why["sentence"] == "She cannot be priced: nobody gave an exchange rate for GBP."


def test_it_says_that_it_is_not_worked_out_yet_or_needed_no_more(spring, cast):
    made = cast.ben.post(f"{spring.path}/candidates", {"name": "Knot"})
    knot = SimpleNamespace(pk=made.json()["id"])
    assert advice(cast.ben, knot)["why_none"]["code"] == "not_computed"
    body = {"stage": "struck_off", "reason": "So we said"}
    path = f"/candidates/{spring.petrel.pk}/stage-changes"
    assert cast.ola.post(path, body).status_code == 201
    spring.yard.recompute()
    said = advice(cast.ben, spring.petrel)
    assert (said["offering"], said["why_none"]["code"]) == (None, "struck_off")
    assert said["why_none"]["missing"] == []


def test_an_offer_prices_a_boat_without_an_asking_price(spring, cast):
    inputs = read_inputs(spring.yard.list.pk)
    tern = next(boat for boat in inputs.boats if boat.id == spring.tern.pk)
    assert "asking_price" in missing_for_cost(tern, inputs)
    offer = LiveOffer(tern.id, tern.id, 8_000.0, "USD", "made")
    offered = replace(tern, offer=offer)
    assert "asking_price" not in missing_for_cost(offered, inputs)
    purchase, _ = purchase_of(offered, inputs.brief)
    assert (purchase.expected_price, purchase.share_log_sd) == (8_000.0, 0.0)
    foreign = replace(tern, offer=replace(offer, currency="NOK"))
    assert "exchange_rate:NOK" in missing_for_cost(foreign, inputs)


def test_a_professional_is_not_outvoted_and_his_finding_is_asked_about(cast):
    """Four members saw nothing wrong at the chainplates; the surveyor found one pulled out."""
    load_catalogue()
    yard = Yard.of(cast.group, cast.ola.person)
    boat = yard.boat("Plover")
    seen = dict.fromkeys(("chainplates-below", "deck-tapping", "engine-oil", "ports-and-leaks"), 1)
    for who in (cast.ola, cast.ben, cast.bea, cast.hal):
        yard.look(boat, who.person, seen)
        yard.look(yard.boat(f"Seen by {who.person.name}"), who.person, seen)
    surveyed(cast.ben, boat, {"checkpoint": "chainplates-below", "level": 4, "words": "Pulled."})
    yard.recompute()
    consensus = cast.ben.get(f"/candidates/{boat.pk}/consensus").json()["consensus"]
    (at,) = [one for one in consensus["checkpoints"] if one["checkpoint"] == "chainplates-below"]
    assert sum(at["levels"][3:]) > 0.9
    asked = [one["remedy"] for one in advice(cast.ben, boat)["offering"]["asks"]["items"]]
    assert {"renew-chainplates", "repair-bulkhead"} <= set(asked)


COST = {"low": "1600.00", "high": "3600.00", "currency": "USD"}


def asked_about(who, boat, remedy):
    items = advice(who, boat)["offering"]["asks"]["items"]
    return next((one for one in items if one["remedy"] == remedy), None)


@pytest.mark.parametrize(
    "finding",
    [
        {"checkpoint": "chainplates-below", "level": 2, "words": "Wasted; renew."},
        {"words": "The chainplates are wasted; renew."},
    ],
    ids=["of a checkpoint", "in words"],
)
def test_what_a_surveyor_priced_is_needed_whatever_the_levels_say(spring, cast, finding):
    """At "tired" the catalogue calls for new chainplates in 6 of 100."""
    boat = spring.petrel
    assert asked_about(cast.ben, boat, "renew-chainplates") is None
    surveyed(cast.ben, boat, {**finding, "cost": COST, "remedy": "renew-chainplates"})
    spring.yard.recompute()
    one = asked_about(cast.ben, boat, "renew-chainplates")
    assert (one["needed"], one["safety"], one["professional"]) == (1, True, True)
    assert {end: amount(one["range"][end]) for end in ("low", "high")} == {
        "low": 1_600,
        "high": 3_600,
    }
    assert "priced by a professional at 1,600 USD to 3,600 USD" in one["sentence"]
    assert 1_600 < amount(one["amount"]) < 5_000  # with the work that it needs beside
    # A yard's quote is a better price, and changes nothing of the need.
    quote = {
        "remedy": "renew-chainplates",
        "price": {"amount": "2000.00", "currency": "USD"},
        "firmness": "fixed",
        "from_whom": "The yard",
        "dated_on": "2025-03-01",
        "includes_enabling": True,
    }
    assert cast.ben.post(f"/candidates/{boat.pk}/quotes", quote).status_code == 201
    spring.yard.recompute()
    one = asked_about(cast.ben, boat, "renew-chainplates")
    assert (one["needed"], one["range"], amount(one["amount"])) == (1, None, 2_000)


def test_what_was_put_right_since_is_not_asked_about(spring, cast):
    boat, today = spring.petrel, timezone.localdate()
    found = {"checkpoint": "chainplates-below", "level": 2}
    surveyed(cast.ben, boat, {**found, "cost": COST, "remedy": "renew-chainplates"})
    cleared = {
        "checkpoint": "chainplates-below",
        "basis": "repair",
        "level": 0,
        "document": "The yard's invoice",
        "dated_on": today.isoformat(),
    }
    assert cast.ben.post(f"/candidates/{boat.pk}/clearances", cleared).status_code == 201
    spring.yard.recompute()
    assert asked_about(cast.ben, boat, "renew-chainplates") is None
