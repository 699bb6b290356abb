"""The results of one candidate: rollup, consensus, reasons."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from apps.appraisal.models import CandidateAppraisal
from apps.purchase.models import Quote
from apps.viewings.models import Clearance
from tests.appraisal.building import fill
from tests.kept import kept

READS = ("rollup", "consensus", "reasons", "explanation", "offer-advice", "explanation.svg")


def amount(money: dict) -> float:
    return float(money["amount"])


def rollup(cast, boat) -> dict:
    return cast.ben.get(f"/candidates/{boat.pk}/rollup").json()["rollup"]


def checkpoint(cast, boat, code: str) -> dict:
    consensus = cast.ben.get(f"/candidates/{boat.pk}/consensus").json()["consensus"]
    return next(one for one in consensus["checkpoints"] if one["checkpoint"] == code)


@pytest.mark.parametrize("what", READS)
def test_they_are_there_for_members_alone(spring, cast, what):
    path = f"/candidates/{spring.petrel.pk}/{what}"
    assert cast.ivy.get(path).status_code == 200
    for who in (cast.wim, cast.sten):
        assert who.get(path).status_code == 404
    assert cast.nobody.get(path).status_code == 401


@pytest.mark.parametrize("what", READS[:5])
def test_they_say_what_they_are(spring, cast, what):
    answer = cast.ben.get(f"/candidates/{spring.petrel.pk}/{what}").json()
    assert answer["fresh"] is True
    assert answer["revision"] == spring.yard.list.inputs_revision
    assert "not a survey" in answer["caution"]
    assert answer["candidate"]["name"] == "Petrel"


@pytest.mark.parametrize("what", READS)
def test_they_say_so_before_anything_was_worked_out(yard, cast, what):
    boat = yard.boat("Petrel")
    answer = cast.ben.get(f"/candidates/{boat.pk}/{what}")
    assert answer.status_code == 200
    if not what.endswith("svg"):
        assert (answer.json()["revision"], answer.json()["fresh"]) == (0, False)


@pytest.mark.parametrize("what", READS[:5])
def test_constant_queries(yard, cast, what, django_assert_num_queries):
    boat = kept("one computed", lambda: one_computed(yard))
    path = f"/candidates/{boat.pk}/{what}"
    cast.ben.get(path)
    with django_assert_num_queries(10, exact=False) as few:
        cast.ben.get(path)
    kept("nine computed", lambda: nine_computed(yard, boat, cast))
    with django_assert_num_queries(len(few)):
        cast.ben.get(path)


def one_computed(yard):
    boat = yard.boat("Petrel")
    yard.recompute()
    return boat


def nine_computed(yard, boat, cast) -> None:
    fill(yard, [cast.ben.person, cast.bea.person], 8, looked=0.2)
    yard.look(boat, cast.hal.person, {"engine-oil": 2, "deck-cracks": 3})
    yard.list.refresh_from_db()
    yard.recompute()


# --- Rollup --------------------------------------------------------------------------------------


def test_the_parts_sum_to_the_mean(spring, cast):
    figures = rollup(cast, spring.petrel)
    parts = {name: amount(part) for name, part in figures["parts"].items()}
    assert sum(parts.values()) == pytest.approx(float(figures["all_in"]["mean"]), abs=4)
    later = parts["later"] + parts["enabling_later"]
    assert later == pytest.approx(float(figures["later"]["mean"]), abs=2)
    assert sum(parts.values()) - later == pytest.approx(float(figures["upfront"]["mean"]), abs=4)
    causes = sum(amount(part) for part in figures["by_cause"].values())
    assert causes == pytest.approx(float(figures["work"]["mean"]), abs=3)
    areas = sum(amount(area["expected"]) for area in figures["by_area"])
    assert areas == pytest.approx(causes, abs=len(figures["by_area"]) + 3)
    waits = sum(amount(area["later"]) for area in figures["by_area"])
    assert waits == pytest.approx(later, abs=len(figures["by_area"]) + 3)
    shares = [buyer["share"] for buyer in figures["per_buyer"]]
    assert sum(shares) == pytest.approx(1, abs=1e-5)
    each = sum(amount(buyer["expected"]) for buyer in figures["per_buyer"])
    assert each == pytest.approx(float(figures["all_in"]["mean"]), abs=3)
    for buyer in figures["per_buyer"]:
        both = amount(buyer["upfront"]) + amount(buyer["later"])
        assert both == pytest.approx(amount(buyer["expected"]), abs=2)


def test_what_nobody_saw_is_priced_and_shown_as_such(spring, cast):
    assert amount(rollup(cast, spring.skua)["by_cause"]["not_seen"]) > 1000


def test_what_people_see_differently_is_disputed(spring, cast):
    figures = rollup(cast, spring.fulmar)
    keel = next(area for area in figures["by_area"] if area["area"] == "keel")
    assert amount(keel["disputed"]) > 0


def test_a_quote_takes_the_place_of_the_estimate(spring, cast):
    yard = spring.yard
    today = timezone.localdate()
    before = rollup(cast, spring.fulmar)
    quoted = before["remedies"][0]
    quote = Quote.objects.create(
        candidate=spring.fulmar,
        remedy_id=quoted["remedy"],
        amount=Decimal(11_111),
        currency="USD",
        firmness="fixed",
        from_whom="North Yard",
        dated_on=today,
        added_by=yard.organiser,
    )
    yard.recompute()
    after = rollup(cast, spring.fulmar)
    line = next(one for one in after["remedies"] if one["remedy"] == quoted["remedy"])
    assert line["quoted"]
    assert amount(line["price"]) == 11_111
    assert amount(line["expected"]) == pytest.approx(line["probability"] * 11_111, rel=0.01)
    assert [one["from_whom"] for one in after["quotes"]] == ["North Yard"]
    assert after["quotes"][0]["quote_id"] == str(quote.pk)


def test_own_work_within_what_owners_may_do_and_the_hours_they_have(spring, cast):
    yard = spring.yard
    own = ["renew-gas-installation", "antifoul", "barrier-coat"]
    brief = type(yard.list).objects.filter(pk=yard.list.pk)
    before = rollup(cast, spring.fulmar)
    brief.update(own_remedies=own, own_hours=7)
    yard.recompute()
    after = rollup(cast, spring.fulmar)
    assumed = {(one["code"], one.get("remedy")) for one in after["assumed"]}
    assert ("own_work_refused", "renew-gas-installation") in assumed
    assert ("own_hours_used_up", "barrier-coat") in assumed
    done = {one["remedy"]: one["done_by"] for one in after["remedies"]}
    assert done["antifoul"] == "group"
    assert done["barrier-coat"] == "yard"
    assert float(after["work"]["mean"]) < float(before["work"]["mean"])


def test_unknown_age_is_said_to_be_taken_for_granted(yard, cast):
    boat = yard.boat("Petrel", build_year=None)
    yard.recompute()
    assumed = rollup(cast, boat)["assumed"]
    assert assumed[0]["code"] == "age_unknown"
    assert "Nobody knows when she was built" in assumed[0]["sentence"]


@pytest.mark.parametrize(
    ("year", "said"),
    [
        (2024, None),
        (
            2035,
            "The price index has no figure after 2024: prices are carried forward to 2035 by its "
            "last yearly rate, 2.9% a year.",
        ),
        (1999, "Prices are those of 2000: the price index does not go back further."),
    ],
)
def test_a_year_beyond_the_price_index_is_carried_forward_and_said(yard, cast, year, said):
    boat = yard.boat("Petrel")
    type(yard.list).objects.filter(pk=yard.list.pk).update(price_year=year)
    yard.recompute()
    found = [
        one["sentence"]
        for one in rollup(cast, boat)["assumed"]
        if one["code"] == "price_index_year"
    ]
    assert found == ([said] if said else [])


def test_it_says_what_is_missing(spring, cast):
    figures = rollup(cast, spring.tern)
    assert figures["missing"] == ["asking_price"]
    assert figures["sentence"] == "She cannot be priced: nobody gave an asking price."
    assert "all_in" not in figures


def test_the_same_facts_give_the_same_figures(spring, cast):
    before = rollup(cast, spring.petrel)
    spring.yard.recompute()
    assert rollup(cast, spring.petrel) == before


# --- Consensus -----------------------------------------------------------------------------------


def test_what_findings_add_up_to(spring, cast):
    seen = checkpoint(cast, spring.petrel, "engine-oil")
    assert sum(seen["levels"]) == pytest.approx(1, abs=0.001)
    assert seen["looks"] == 3
    assert seen["cause"] == "seen"
    assert seen["mean"] < 0.5
    assert {report["name"] for report in seen["reports"]} == {"Ben", "Bea", "Hal"}
    assert seen["judged_by"] == ""


def test_could_not_look_is_never_read_as_fine(spring, cast):
    not_seen = checkpoint(cast, spring.fulmar, "blister-depth")
    assert not_seen["looks"] == 0
    assert not_seen["cause"] == "not_seen"
    assert not_seen["could_not_look"][0]["reason"] == "afloat"
    assert not_seen["could_not_look"][0]["name"] == "Ben"
    # Others aboard were found tired, so unseen checkpoints are expected to be worse than on Petrel.
    assert not_seen["mean"] > checkpoint(cast, spring.petrel, "blister-depth")["mean"]


def test_who_differs_is_told(spring, cast):
    keel = checkpoint(cast, spring.fulmar, "keel-joint-line")
    assert keel["cause"] == "disputed"
    assert any(report["differs"] for report in keel["reports"])


def test_the_worst_credible_level_stands_beside_the_mean_where_it_matters(spring, cast):
    keel = checkpoint(cast, spring.fulmar, "keel-joint-line")
    assert keel["worst_credible"] >= keel["mean"]
    assert keel["judged_by"] == "surveyor"
    consensus = cast.ben.get(f"/candidates/{spring.fulmar.pk}/consensus").json()["consensus"]
    for one in consensus["checkpoints"]:
        guarded = {"structural", "safety", "flooding"} & set(one["concerns"])
        assert (one["worst_credible"] is not None) == bool(guarded)


def test_an_open_doubt_stands_at_its_own_level(spring, cast):
    doubt = checkpoint(cast, spring.fulmar, "keel-joint-line")["doubt"]
    assert (doubt["level"], doubt["name"], doubt["judged_by"]) == (4, "Ben", "surveyor")


def test_a_professional_clears_a_doubt(spring, cast):
    spring.yard.look(
        spring.fulmar,
        cast.bea.person,  # a buyer enters what the surveyor found
        {"keel-joint-line": 0},
        at=timezone.now(),
        capacity="professional",
        profession="surveyor",
    )
    spring.yard.recompute()
    keel = checkpoint(cast, spring.fulmar, "keel-joint-line")
    assert keel["doubt"] is None
    assert keel["mean"] < 1
    assert "professional" in {report["kind"] for report in keel["reports"]}


def test_after_a_repair_what_was_seen_before_no_longer_counts(spring, cast):
    Clearance.objects.create(
        candidate=spring.fulmar,
        checkpoint_id="keel-joint-line",
        basis="repair",
        level=0,
        document="invoice 12",
        dated_on=timezone.localdate() + timedelta(days=1),
        added_by=spring.yard.organiser,
    )
    spring.yard.recompute()
    keel = checkpoint(cast, spring.fulmar, "keel-joint-line")
    assert keel["doubt"] is None
    assert [report["kind"] for report in keel["reports"]] == ["document"]
    assert keel["mean"] < 0.5


# --- Reasons -------------------------------------------------------------------------------------


def test_reasons_in_full(spring, cast):
    reasons = cast.ben.get(f"/candidates/{spring.fulmar.pk}/reasons").json()["reasons"]
    assert (reasons["place"], reasons["of"]) == (2, 4)
    assert reasons["strike_off_advised"] == bool(reasons["advice"])
    assert [one["checkpoint"] for one in reasons["before_buying"]] == ["keel-joint-line"]
    (doubt,) = [one for one in reasons["doubts"] if one["checkpoint"] == "keel-joint-line"]
    assert doubt["sentence"].startswith("Line where keel meets hull: Ben saw it as failed on ")
    assert doubt["sentence"].endswith("Open until a surveyor or a documented repair clears it.")
    ahead, behind = reasons["compared"]
    assert (ahead["ahead"], behind["ahead"]) == (True, False)
    assert ahead["sentence"].startswith("Petrel is next, ahead of her by ")


def test_an_order_that_goes_against_what_is_left_over_says_so(spring, cast):
    for person in (cast.ben.person, cast.bea.person):
        spring.yard.valuation(spring.skua, person, 140_000)
    spring.yard.recompute()
    board = cast.ben.get(f"{spring.path}/board").json()
    left = [spring.row(board, boat)["surplus"]["amount"] for boat in (spring.fulmar, spring.skua)]
    assert float(left[0]) < float(left[1])
    path = f"/candidates/{spring.skua.pk}/reasons"
    ahead = cast.ben.get(path).json()["reasons"]["compared"][0]
    assert ahead["candidate_id"] == str(spring.fulmar.pk)
    assert float(ahead["against"]["amount"]) == pytest.approx(
        float(left[1]) - float(left[0]), abs=1
    )
    assert ahead["sentence"].endswith("what may go over the budget counts for more.")
    assert cast.ivy.get(path).json()["reasons"]["compared"][0]["against"] is None


def test_what_an_earlier_method_stored_can_be_read_until_it_is_worked_out_anew(spring, cast):
    stored = CandidateAppraisal.objects.get(pk=spring.fulmar.pk)
    for one in stored.reasons["compared"]:
        del one["against"]
    stored.save()
    answer = cast.ben.get(f"/candidates/{spring.fulmar.pk}/reasons")
    assert answer.status_code == 200
    assert all(one["against"] is None for one in answer.json()["reasons"]["compared"])


def test_wants_met_and_not(spring, cast):
    yard, ben = spring.yard, cast.ben.person
    yard.want(
        ben, kind="weight", weight=3, subject="particular", key="draught_m", test="at_most", value=2
    )
    yard.want(
        ben,
        kind="weight",
        weight=1,
        subject="ratio",
        key="ballast_ratio",
        test="at_least",
        value=0.9,
    )
    yard.want(ben, kind="weight", weight=5, subject="free", text="a good chart table")
    yard.recompute()
    reasons = cast.ben.get(f"/candidates/{spring.petrel.pk}/reasons").json()["reasons"]
    assert [want["met"] for want in reasons["wants"]] == [True, False, None]
    assert reasons["wants"][0]["sentence"] == "Ben wants draught at most 2 m: met."
    met = next(one for one in reasons["wants_met"] if one["name"] == "Ben")
    assert met["share"] == pytest.approx(0.75)
