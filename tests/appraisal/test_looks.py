"""Next looks, raters, explanations."""

from collections import Counter

import pytest

from apps.appraisal.models import ListAppraisal
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.viewings.checklists import checklist_from
from tests.appraisal.building import fill, surveyed
from tests.catalogue.real import REAL
from tests.conftest import pointers


def amount(money: dict) -> float:
    return float(money["amount"])


@pytest.mark.parametrize("what", ["next-looks", "raters"])
def test_they_are_there_for_members_alone(spring, cast, what):
    assert cast.ivy.get(f"{spring.path}/{what}").status_code == 200
    for who in (cast.wim, cast.sten):
        assert who.get(f"{spring.path}/{what}").status_code == 404


@pytest.mark.parametrize("what", ["next-looks", "raters"])
def test_they_have_a_freshness_of_their_own(spring, cast, what):
    assert cast.ben.get(f"{spring.path}/{what}").json()["fresh"] is True
    ListAppraisal.objects.update(looks_revision=1)
    looks = cast.ben.get(f"{spring.path}/{what}").json()
    assert (looks["revision"], looks["fresh"]) == (1, False)
    assert cast.ben.get(f"{spring.path}/board").json()["fresh"] is True


@pytest.mark.parametrize("what", ["next-looks", "raters"])
def test_before_anything_was_worked_out(yard, cast, what):
    yard.boat("Petrel")
    looks = cast.ben.get(f"/lists/{yard.list.pk}/{what}").json()
    assert (looks["revision"], looks["fresh"]) == (0, False)


@pytest.mark.parametrize(("what", "queries"), [("next-looks", 6), ("raters", 5)])
def test_constant_queries(yard, cast, what, queries, django_assert_num_queries):
    """As many whether or not the reader may see all opinions."""
    path = f"/lists/{yard.list.pk}/{what}"
    yard.valuation(yard.boat("Petrel"), cast.ben.person, 50_000)
    yard.recompute()
    for who in (cast.ben, cast.ivy):
        who.get(path)
    with django_assert_num_queries(queries):
        cast.ben.get(path)
    with django_assert_num_queries(queries):
        cast.ivy.get(path)
    fill(yard, [cast.ben.person, cast.bea.person], 8, looked=0.2)
    yard.recompute()
    with django_assert_num_queries(queries):
        cast.ben.get(path)
    with django_assert_num_queries(queries):
        cast.ivy.get(path)


# --- Next looks ----------------------------------------------------------------------------------


@pytest.fixture
def close(spring, cast):
    """Two boats so close that a further look may decide between them."""
    yard = spring.yard
    for boat, valuations in ((spring.petrel, (71_000, 71_000)), (spring.fulmar, (85_000, 85_000))):
        for person, value in zip(
            yard.list.group.memberships.filter(role="buyer"), valuations, strict=True
        ):
            yard.valuation(boat, person.person, value)
    yard.recompute()
    return spring


def test_looks_are_ranked_in_money_and_never_worth_more_than_knowing_everything(close, cast):
    looks = cast.ben.get(f"{close.path}/next-looks").json()
    ceiling = amount(looks["ceiling"])
    for kind in ("checks", "visits", "surveys"):
        valuations = [amount(one["value"]) for one in looks[kind]]
        assert valuations == sorted(valuations, reverse=True)
        assert all(0 <= value <= ceiling + 1 for value in valuations)
    assert all(amount(one["value"]) <= amount(one["at_most"]) + 1 for one in looks["checks"])
    assert all(one["sentence"] for kind in ("checks", "visits", "surveys") for one in looks[kind])


def test_a_sea_trial_settles_what_is_open_and_no_visit_what_only_it_shows(close, cast):
    looks = cast.ben.get(f"{close.path}/next-looks").json()
    catalogue = REAL.checkpoints
    assert not [one for one in looks["checks"] if catalogue[one["checkpoint"]].place == "under_way"]
    trials = {one["candidate_id"]: one for one in looks["visits"] if one["kind"] == "sea_trial"}
    assert set(trials) == {one["candidate_id"] for one in looks["visits"]}
    for boat, trial in trials.items():
        # PERT mean (Malcolm et al. 1959, from memory) of 0, 150 and 500: launch, fuel, skipper.
        index = REAL.money.price_ratio(close.yard.list.price_year)
        assert amount(trial["fee"]) == pytest.approx((0 + 4 * 150 + 500) / 6 * index, abs=1)
        assert "launch, fuel and skipper cost about" in trial["sentence"]
        shown = cast.ben.get(f"/candidates/{boat}/checklist?kind=sea_trial").json()
        on_it = {check["code"] for place in shown["places"] for check in place["possible"]}
        professional = {code for code in on_it if catalogue[code].professional_only}
        again = {one["checkpoint"] for one in looks["checks"] if one["candidate_id"] == boat}
        by_members = on_it - professional
        assert len(by_members - again) <= trial["checks"] <= len(by_members)
    others = [one for one in looks["visits"] if one["kind"] != "sea_trial"]
    assert all(one.get("fee") is None for one in others)


def test_after_a_sea_trial_a_visit_is_still_one_ashore(close, cast):
    made = cast.ben.post(
        f"/candidates/{close.petrel.pk}/viewings",
        {"kind": "sea_trial", "starts_at": "2025-05-03T09:00:00Z", "conditions": {"wind": 4}},
    )
    found = {"checkpoint": "gearbox-under-way", "kind": "looked", "level": 0}
    content = {"state": "submitted", "findings": [found]}
    posted = cast.ben.post(f"/viewings/{made.json()['id']}/submissions", content)
    assert posted.status_code == 201, posted.content
    before = cast.ben.get(f"{close.path}/next-looks").json()["visits"]
    close.yard.recompute()
    after = cast.ben.get(f"{close.path}/next-looks").json()["visits"]

    def lay(visits):
        boat = str(close.petrel.pk)
        return [
            one["hindrances"]
            for one in visits
            if (one["candidate_id"], one["kind"]) == (boat, "as_before")
        ]

    assert lay(after) == lay(before) != []


def test_the_fee_of_a_survey_counts_only_if_she_is_not_bought_after_it(close, cast):
    looks = cast.ben.get(f"{close.path}/next-looks").json()
    assert len(looks["surveys"]) == 3
    for survey in looks["surveys"]:
        # 85 a metre for 9.6 m, and 400 for the lift-out.
        assert amount(survey["fee"]) == 1216
        cost = amount(survey["cost_now"])
        assert cost == pytest.approx(1216 * survey["not_bought"], abs=1)
        changes = survey["changes_first"] > 0 or amount(survey["money_off"]) > 0
        assert survey["pays_now"] == (changes and amount(survey["value"]) >= cost)
    leader = close.yard.list.candidates.get(
        pk=cast.ben.get(f"{close.path}/board").json()["candidates"][0]["candidate_id"]
    )
    (first,) = [one for one in looks["surveys"] if one["candidate_id"] == str(leader.pk)]
    # Where the seller takes off what was found, she is bought all the same.
    assert first["not_bought"] <= first["changes_first"] < 1


def test_a_boat_that_was_surveyed_as_a_whole_is_not_named_for_a_survey_again(spring, cast):
    def named():
        spring.yard.recompute()
        looks = cast.ben.get(f"{spring.path}/next-looks").json()
        return {one["name"] for one in looks["surveys"]}

    before, words = named(), {"words": "As she lies."}
    assert {"Petrel", "Fulmar"} <= before
    surveyed(cast.ben, spring.petrel, words, kind="engine")
    assert named() == before
    surveyed(cast.ben, spring.petrel, words)
    assert named() == before - {"Petrel"}


def test_nobody_is_talked_out_of_a_survey_of_the_boat_they_buy(close, cast):
    looks = cast.ben.get(f"{close.path}/next-looks").json()
    for survey in looks["surveys"]:
        said = survey["sentence"]
        assert said.startswith("Survey whichever boat you buy; insurers usually ask for it.")
        never = survey["changes_first"] < 0.005
        would = " now would not change which boat comes first."
        assert (f"{survey['name']}{would}" in said) is never
        assert ("often enough to pay" in said) is (not never and not survey["pays_now"])


def test_no_seller_is_asked_for_more_off_than_anybody_would_take(close, cast):
    """Three tenths of the asking price: neither by questions, nor by surveys, nor by reasons."""
    yard = close.yard
    for boat in (close.petrel, close.fulmar):
        type(boat).objects.filter(pk=boat.pk).update(asking_amount=3_000)
        for buyer in (cast.ben, cast.bea):
            yard.valuation(boat, buyer.person, 30_000)
    yard.recompute()
    looks = cast.ben.get(f"{close.path}/next-looks").json()
    asking = {str(boat.pk): 3_000 for boat in (close.petrel, close.fulmar)}
    asking[str(close.skua.pk)] = float(close.skua.asking_amount)
    tried = 0
    for survey in looks["surveys"]:
        tried += 1
        if survey["change_needed"]:
            cut = -amount(survey["change_needed"])
            assert 0 <= cut <= 0.3 * asking[survey["candidate_id"]]
    for question in looks["questions"]:
        if question["kind"] == "price":
            assert amount(question["price"]) >= 0.7 * asking[question["candidate_id"]]
    for boat, price in asking.items():
        for change in cast.ben.get(f"/candidates/{boat}/explanation").json()["changes"]:
            if change["fact"] == "asking" and change["effect"] in ("passes", "within_budget"):
                assert amount(change["then_amount"]) >= 0.7 * price - 1
    assert tried == 3


def test_what_it_leaves_out_is_said(close, cast):
    looks = cast.ben.get(f"{close.path}/next-looks").json()
    (tern,) = looks["left_out"]
    assert tern["sentence"].startswith("Tern cannot be priced yet")
    assert any("safety, for insurance" in sentence for sentence in looks["sentences"])


def test_without_any_valuation_there_is_no_money_in_looking(yard, cast):
    yard.boat("Petrel")
    yard.recompute()
    looks = cast.ben.get(f"/lists/{yard.list.pk}/next-looks").json()
    assert looks["value"] is None
    assert looks["checks"] == []
    assert looks["left_out"][0]["why"] == "valuation_missing"
    assert looks["settled"] is False


def test_settled_depends_on_what_a_trip_costs(close, cast):
    dear = cast.ben.get(f"{close.path}/next-looks?trip_cost=1000000").json()
    assert dear["settled"] is True
    assert "No look would change the order by enough to be worth a trip." in dear["sentences"]
    free = cast.ben.get(f"{close.path}/next-looks?trip_cost=0").json()
    assert free["settled"] is False


def test_a_visit_in_given_conditions_is_worked_out_on_the_spot(close, cast):
    before = ListAppraisal.objects.values().get()
    looks = cast.ben.get(f"{close.path}/next-looks?where=afloat&covered=false").json()
    asked = [visit for visit in looks["visits"] if visit["kind"] == "as_asked"]
    assert {visit["name"] for visit in asked} == {"Petrel", "Fulmar", "Skua"}
    assert all(visit["hindrances"] == ["afloat"] for visit in asked)
    free = {
        visit["candidate_id"]: visit
        for visit in looks["visits"]
        if visit["kind"] == "nothing_in_the_way"
    }
    for visit in asked:
        assert visit["checks"] < free[visit["candidate_id"]]["checks"]
    assert ListAppraisal.objects.values().get() == before


def test_a_visit_says_how_long_it_takes_and_what_is_a_guess_there(close, cast):
    at = f"{close.path}/next-looks?where=ashore&walk_under_cover=true&light=poor"
    visits = cast.ben.get(at).json()["visits"]
    asked = [visit for visit in visits if visit["kind"] == "as_asked"]
    assert asked
    for visit in asked:
        boat = Candidate.objects.get(pk=visit["candidate_id"])
        conditions = {"where": "ashore", "walk_under_cover": True, "light": "poor"}
        found = checklist_from(catalogue_snapshot(boat.list.group_id), boat, conditions)
        may = [one for one in found.possible if not one.checkpoint.professional_only]
        assert visit["checks"] == len(may), "calls are apart"
        assert visit["minutes"] == sum(one.checkpoint.minutes for one in may)
        told = {row["reason"]: row["checks"] for row in visit["hampered"]}
        assert told == Counter(reason for one in may for reason in one.hampered)
        assert told["walk_under_cover"] > 3
        because = f"{told['walk_under_cover']} because she stands under a cover to walk under"
        assert f"checks, some of them guesses: {because}" in visit["sentence"]


def test_a_visit_in_which_the_looks_are_hampered_is_worth_less(close, cast):
    def asked(light: str) -> dict[str, tuple[int, float]]:
        looks = cast.ben.get(f"{close.path}/next-looks?where=ashore&light={light}").json()
        visits = [visit for visit in looks["visits"] if visit["kind"] == "as_asked"]
        return {one["name"]: (one["checks"], float(one["value"]["amount"])) for one in visits}

    well, badly = asked("good"), asked("poor")
    for boat, (checks, value) in badly.items():
        assert checks == well[boat][0], "poor light hampers, and prevents nothing"
        assert value <= well[boat][1] + 1
    assert sum(value for _, value in badly.values()) < sum(value for _, value in well.values())


@pytest.mark.parametrize(
    ("query", "at"),
    [("where=moored", "?where"), ("trip_cost=-1", "?trip_cost"), ("tide=low", "?tide")],
)
def test_bad_parameters_are_named(spring, cast, query, at):
    assert pointers(cast.ben.get(f"{spring.path}/next-looks?{query}")) == {at}


def test_questions_for_the_seller(close, cast):
    questions = cast.ben.get(f"{close.path}/next-looks").json()["questions"]
    assert questions
    kinds = {question["kind"] for question in questions}
    assert "not_seen" in kinds or "year" in kinds
    for question in questions:
        assert question["sentence"].startswith(question["name"])
        assert question["sentence"].endswith(("?", ".")), question["sentence"]


def test_the_seller_is_asked_what_the_catalogue_asks_and_nothing_else(close, cast):
    """Nobody asks for a picture of a moving keel, or to run an engine that is laid up."""
    checkpoints = {one["code"]: one for one in cast.ben.get("/checkpoints").json()["results"]}
    asks = {one["ask"] for one in checkpoints.values()} - {""}
    found = cast.ben.get(f"{close.path}/next-looks").json()
    questions = [*found["questions"], *found["of_costs"]["questions"]]
    told = [one for one in questions if one["kind"] != "price"]
    assert told
    for one in told:
        assert one["ask"] in asks
        assert one["sentence"] == f"{one['name']}: {one['ask']}"
        if one["kind"] == "not_seen":
            assert one["ask"] == checkpoints[one["subject"]]["ask"]
    mine = [(one["candidate_id"], one["ask"]) for one in found["of_costs"]["questions"]]
    assert len(mine) == len(set(mine)), "each question once"
    assert checkpoints["keel-movement"]["ask"] == ""
    for ask in asks:
        assert "picture" not in ask
        assert "start" not in ask or "How does she start" in ask


# --- Raters ----------------------------------------------------------------------------------


def test_a_lean_is_found_and_told_kindly(yard, cast):
    """Hal sees everything a level harder than Ben and Bea."""
    people = (cast.ben.person, cast.bea.person, cast.hal.person)
    codes = ("engine-oil", "deck-cracks", "keel-joint-line", "blister-depth", "ports-and-leaks")
    for n in range(6):
        boat = yard.boat(f"Boat {n}")
        levels = {code: (n + k) % 3 for k, code in enumerate(codes)}
        for who in people:
            harder = 1 if who == cast.hal.person else 0
            yard.look(boat, who, {code: level + harder for code, level in levels.items()})
    yard.recompute()
    raters = cast.ben.get(f"/lists/{yard.list.pk}/raters").json()["raters"]
    lean = {one["name"]: one["lean"]["mean"] for one in raters}
    assert lean["Hal"] > lean["Ben"] + 0.5
    assert lean["Ben"] == pytest.approx(lean["Bea"], abs=0.1)
    hal = next(one for one in raters if one["name"] == "Hal")
    assert hal["findings"] == 30
    assert hal["lean"]["low"] < hal["lean"]["mean"] < hal["lean"]["high"]
    assert hal["sentences"][0].startswith("Hal tends to grade things about")
    assert "harder" in hal["sentences"][0]
    assert "no need to look in another way" in hal["sentences"][0]
    pairs = cast.ben.get(f"/lists/{yard.list.pk}/raters").json()["agreement"]["pairs"]
    together = {frozenset((p["first"]["name"], p["second"]["name"])): p for p in pairs}
    assert together[frozenset(("Ben", "Bea"))]["same"] == 1.0
    assert together[frozenset(("Ben", "Bea"))]["kappa"]["value"] == 1.0
    assert abs(together[frozenset(("Ben", "Hal"))]["difference"]) == 1.0


def test_agreement_is_said_to_be_unknown_where_it_is(yard, cast):
    yard.look(yard.boat("Petrel"), cast.ben.person, {"engine-oil": 1})
    yard.recompute()
    agreement = cast.ben.get(f"/lists/{yard.list.pk}/raters").json()["agreement"]
    assert agreement["list"]["value"] is None
    assert agreement["list"]["reason"]
    assert "looked at too few of the same things" in agreement["list"]["sentence"]


# --- Explanation ---------------------------------------------------------------------------------


def test_the_waterfall_leads_from_the_asking_price_to_the_mean(spring, cast):
    path = f"/candidates/{spring.petrel.pk}"
    steps = cast.ben.get(f"{path}/explanation").json()["waterfall"]
    assert steps[0]["of"] == "asking"
    assert amount(steps[0]["amount"]) == 26_000
    mean = float(cast.ben.get(f"{path}/rollup").json()["rollup"]["all_in"]["mean"])
    assert amount(steps[-1]["total"]) == pytest.approx(mean, abs=1)
    assert sum(amount(step["amount"]) for step in steps) == pytest.approx(mean, abs=len(steps))


def test_facts_that_would_change_her_place(close, cast):
    answer = cast.ben.get(f"/candidates/{close.fulmar.pk}/explanation").json()
    assert answer["compared"]
    assert answer["changes"]
    for change in answer["changes"]:
        assert change["sentence"].endswith(".")
        assert "Fulmar would" in change["sentence"]


def places_at(close, cast, boat, asking) -> dict[str, int]:
    """By boat, at this asking price."""
    money = {"amount": f"{asking:.2f}", "currency": "USD"}
    body = {"prices": [{"candidate_id": str(boat.pk), "asking": money}]}
    then = cast.ben.post(f"{close.path}/what-if", body).json()["candidates"]
    return {one["candidate_id"]: one["then"]["place"] for one in then}


@pytest.mark.parametrize("unpaid", [0, 4])
@pytest.mark.parametrize("name", ["petrel", "fulmar"])
def test_a_price_that_is_said_to_change_her_place_does(close, cast, name, unpaid):
    """What-if confirms each explanation to the unit: the effect comes at this price and not before.

    Unpaid tax and the reserve are a part of the price, so they move with it.
    """
    boat = getattr(close, name)
    close.yard.look(boat, cast.ben.person, {"tax-and-conformity": unpaid})
    close.yard.recompute()
    changes = cast.ben.get(f"/candidates/{boat.pk}/explanation").json()["changes"]
    prices = [one for one in changes if one["fact"] == "asking" and one["other"]]
    assert prices
    for change in prices:
        then, own, other = amount(change["then_amount"]), str(boat.pk), change["other"]
        cheaper = change["effect"] == "passes"
        at = places_at(close, cast, boat, then)
        assert at[own] < at[other] if cheaper else at[own] > at[other]
        short = places_at(close, cast, boat, then + (2 if cheaper else -2))
        assert short[own] >= short[other] if cheaper else short[own] <= short[other]


def test_who_takes_no_part_is_not_compared(spring, cast):
    answer = cast.ben.get(f"/candidates/{spring.tern.pk}/explanation").json()
    assert answer["compared"] is False
    assert answer["changes"] == []
