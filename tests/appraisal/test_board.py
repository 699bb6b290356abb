"""The board: the list's order with its reasons."""

import time
from datetime import timedelta
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.appraisal.models import ListAppraisal
from apps.appraisal.words.phrases import about
from apps.boats.list_models import CandidateList
from apps.common.processes.turns import Turns
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.conftest import pointers


def test_it_works(spring, cast):
    answer = cast.ben.get(f"{spring.path}/board")
    assert answer.status_code == 200
    board = answer.json()
    assert board["fresh"] is True
    assert board["revision"] == spring.yard.list.inputs_revision
    assert board["computed_at"]
    assert board["method"]
    assert "not a survey" in board["caution"]
    assert [row["place"] for row in board["candidates"]] == [1, 2, 3, 4]
    petrel = spring.row(board, spring.petrel)
    assert petrel["name"] == "Petrel"
    assert float(petrel["all_in"]["low"]) < float(petrel["all_in"]["likely"])
    assert float(petrel["all_in"]["likely"]) < float(petrel["all_in"]["high"])
    assert petrel["all_in"]["currency"] == "USD"
    assert 0 <= petrel["within_budget"] <= 1
    condition = petrel["condition"]
    assert condition["low"] < condition["score"] < condition["high"]
    assert condition["uncorrected"] == 100.0  # everybody saw everything sound
    assert 0 < condition["coverage"] < 0.2


def test_it_does_not_exist_for_strangers(spring, cast):
    for who in (cast.wim, cast.sten):
        for form in ("board", "board.csv", "board.svg", "board.html", "order"):
            assert who.get(f"{spring.path}/{form}").status_code == 404
    assert cast.nobody.get(f"{spring.path}/board").status_code == 401


def test_an_observer_reads_it(spring, cast):
    assert cast.ivy.get(f"{spring.path}/board").status_code == 200


def test_it_says_so_before_anything_was_worked_out(yard, cast):
    yard.boat("Petrel")
    board = cast.ben.get(f"/lists/{yard.list.pk}/board").json()
    assert (board["revision"], board["fresh"], board["computed_at"]) == (0, False, None)
    assert board["candidates"] == []


def test_it_says_when_newer_findings_are_not_in_it(spring, cast):
    spring.yard.look(spring.petrel, cast.hal.person, {"engine-oil": 2})
    assert cast.ben.get(f"{spring.path}/board").json()["fresh"] is False


@pytest.mark.parametrize("form", ["board", "board.csv", "board.svg", "board.html"])
def test_costs_whose_chance_cannot_be_read_are_left_out(spring, cast, form):
    appraisal = ListAppraisal.objects.get(pk=spring.yard.list.pk)
    for row in appraisal.standing["rows"]:
        row["within_budget"] = "likely"
    appraisal.save()
    appraisal.answers.all().delete()
    CandidateList.objects.update(opinions_open=True)
    answer = cast.ola.get(f"{spring.path}/{form}")
    assert answer.status_code == 200
    if form == "board":
        assert [row["upfront"] for row in answer.json()["candidates"]] == [None] * 4


def test_it_says_when_working_it_out_fails(spring, cast):
    ListAppraisal.objects.update(attempts=2, last_error="ValueError: secret detail")
    answer = cast.ben.get(f"{spring.path}/board")
    assert answer.json()["failing"] is True
    assert "secret detail" not in answer.content.decode()


def test_it_says_when_nobody_works_on_it(spring, cast, monkeypatch):
    monkeypatch.setattr("apps.jobs.life.silent_for", lambda part: 61.0 if part == "results" else 0)
    assert cast.ben.get(f"{spring.path}/board").json()["failing"] is False
    spring.yard.look(spring.petrel, cast.hal.person, {"engine-oil": 2})
    board = cast.ben.get(f"{spring.path}/board").json()
    assert (board["fresh"], board["failing"]) == (False, True)


def test_waiting_answers_honestly(spring, cast):
    spring.yard.look(spring.petrel, cast.hal.person, {"engine-oil": 2})
    answer = cast.ben.get(f"{spring.path}/board?wait=0.1")
    assert answer.json()["fresh"] is False
    assert answer["Retry-After"] == "5"
    held = cast.ben.get(f"{spring.path}/board?wait=0.1", If_None_Match=answer["ETag"])
    assert (held.status_code, held["Retry-After"]) == (304, "5")


def test_where_too_many_wait_the_answer_comes_at_once(spring, cast, monkeypatch):
    nowhere_to_wait = Turns(working=1, waiting=0)
    monkeypatch.setattr("apps.http.middleware.turns.turns", nowhere_to_wait)
    monkeypatch.setattr("apps.common.processes.waiting.turns", nowhere_to_wait)
    spring.yard.look(spring.petrel, cast.hal.person, {"engine-oil": 2})
    started = time.monotonic()
    answer = cast.ben.get(f"{spring.path}/board?wait=30")
    assert time.monotonic() - started < 15
    assert answer.json()["fresh"] is False
    assert answer["Retry-After"] == "5"


def test_a_fresh_answer_does_not_ask_for_another(spring, cast):
    answer = cast.ben.get(f"{spring.path}/board?wait=0.1")
    assert answer.json()["fresh"] is True
    assert "Retry-After" not in answer


@pytest.mark.parametrize("wait", ["-1", "31", "soon"])
def test_waiting_is_bounded(spring, cast, wait):
    assert pointers(cast.ben.get(f"{spring.path}/board?wait={wait}")) == {"?wait"}


def test_not_modified(spring, cast):
    seen = cast.ben.get(f"{spring.path}/board")["ETag"]
    assert cast.ben.get(f"{spring.path}/board", If_None_Match=seen).status_code == 304
    spring.yard.look(spring.petrel, cast.hal.person, {"engine-oil": 2})
    assert cast.ben.get(f"{spring.path}/board", If_None_Match=seen).status_code == 200


# --- The order -----------------------------------------------------------------------------------


def test_the_better_boat_for_the_money_comes_first(spring, cast):
    board = cast.ben.get(f"{spring.path}/board").json()
    assert [row["name"] for row in board["candidates"]] == ["Petrel", "Fulmar", "Skua", "Tern"]
    utilities = [float(row["utility"]["amount"]) for row in board["candidates"][:3]]
    assert utilities == sorted(utilities, reverse=True)


def test_without_a_price_a_boat_comes_last_and_says_why(spring, cast):
    board = cast.ben.get(f"{spring.path}/board").json()
    tern = board["candidates"][-1]
    assert tern["missing"] == ["asking_price"]
    assert tern["all_in"] is None
    assert tern["within_budget"] is None
    assert tern["sentences"][0] == "She cannot be priced: nobody gave an asking price."


def test_without_a_valuation_a_boat_follows_by_her_chance_of_staying_within_the_budget(
    spring, cast
):
    dear = spring.yard.boat("Gannet", 60_000)
    cheap = spring.yard.boat("Auk", 5_000)
    spring.yard.recompute()
    board = cast.ben.get(f"{spring.path}/board").json()
    names = [row["name"] for row in board["candidates"]]
    assert names == ["Petrel", "Fulmar", "Skua", "Auk", "Gannet", "Tern"]
    for boat in (dear, cheap):
        row = spring.row(board, boat)
        assert row["valuation_missing"]
        assert row["utility"] is None
        assert "Nobody has valued her" in row["sentences"][0]


def test_struck_off_ones_stand_apart_with_their_reason(spring, cast):
    spring.yard.strike_off(spring.skua, "Too dear by far.")
    spring.yard.recompute()
    board = cast.ben.get(f"{spring.path}/board").json()
    assert "Skua" not in [row["name"] for row in board["candidates"]]
    (skua,) = board["struck_off"]
    assert (skua["name"], skua["place"]) == ("Skua", None)
    assert skua["stage_reason"] == "Too dear by far."


def test_missing_length_and_currency_are_named(yard, cast):
    boat = yard.boat("Petrel", loa_m=None, lwl_m=None)
    type(boat).objects.filter(pk=boat.pk).update(asking_currency="NOK")
    yard.recompute()
    (row,) = cast.ben.get(f"/lists/{yard.list.pk}/board").json()["candidates"]
    assert row["missing"] == ["exchange_rate:NOK", "loa_m"]
    assert "an exchange rate for NOK" in row["sentences"][0]


def test_work_that_can_wait_stands_beside_the_budget_and_is_not_in_it(spring, cast):
    """Guide, lists and boats: the budget is for price, fees and the work that cannot wait."""
    before = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.petrel)
    means = [float(before[name]["mean"]) for name in ("upfront", "later", "all_in")]
    assert min(means) > 1_000
    assert means[0] + means[1] == pytest.approx(means[2], abs=2)
    high = float(before["upfront"]["high"])
    CandidateList.objects.filter(pk=spring.yard.list.pk).update(budget=high)
    spring.yard.recompute()
    row = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.petrel)
    # One outcome in ten lies above `high`. All-in is above this budget more often than that.
    assert row["within_budget"] == pytest.approx(0.9, abs=0.002)
    assert float(row["all_in"]["high"]) > high + 1_000
    assert row["sentences"][0].startswith("Up front probably ")
    later = about({"amount": means[1], "currency": "USD"})
    assert row["sentences"][0].endswith(f"within the budget, and {later} later.")


def test_what_is_left_over_counts_all_work_and_only_what_is_up_front_can_overrun(spring, cast):
    board = cast.ben.get(f"{spring.path}/board").json()
    for boat in (spring.petrel, spring.skua):
        row = spring.row(board, boat)
        valuation, surplus, utility = (
            float(row[n]["amount"]) for n in ("valuation", "surplus", "utility")
        )
        assert surplus == pytest.approx(valuation - float(row["all_in"]["mean"]), abs=2)
        assert utility <= surplus
    CandidateList.objects.filter(pk=spring.yard.list.pk).update(budget=1_000_000)
    spring.yard.recompute()
    for row in cast.ben.get(f"{spring.path}/board").json()["candidates"]:
        assert row["utility"] == row["surplus"]


def test_an_exchange_rate_prices_her(yard, cast):
    boat = yard.boat("Petrel", 100_000)
    CandidateList.objects.filter(pk=yard.list.pk).update(exchange_rates={"NOK": "0.1"})
    yard.recompute()
    in_dollars = cast.ben.get(f"/candidates/{boat.pk}/rollup").json()["rollup"]
    type(boat).objects.filter(pk=boat.pk).update(asking_currency="NOK")
    yard.recompute()
    in_kroner = cast.ben.get(f"/candidates/{boat.pk}/rollup").json()["rollup"]
    price = [float(one["parts"]["price"]["amount"]) for one in (in_dollars, in_kroner)]
    assert price[1] == pytest.approx(price[0] / 10, abs=1)


# --- Advice --------------------------------------------------------------------------------------


def codes(row: dict) -> set[str]:
    return {one["code"] for one in row["advice"]}


def test_one_persons_failed_is_to_be_judged_before_anybody_buys(spring, cast):
    fulmar = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.fulmar)
    assert "open_doubt" not in codes(fulmar)
    (keel,) = fulmar["before_buying"]
    assert (keel["code"], keel["checkpoint"]) == ("to_be_judged", "keel-joint-line")
    assert (keel["level"], keel["judged_by"]) == (4, "surveyor")
    assert (keel["seen_by"], keel["seen_otherwise"]) == (1, 1)
    assert keel["probability"] < 1 / 3
    assert keel["sentence"] == (
        "Line where keel meets hull: one person saw it as failed, another did not. Look again side "
        "by side, and do not buy her before a surveyor has judged it."
    )
    reasons = cast.ben.get(f"/candidates/{spring.fulmar.pk}/reasons").json()["reasons"]
    assert reasons["before_buying"] == [keel]
    (still_open,) = [one for one in reasons["doubts"] if one["checkpoint"] == "keel-joint-line"]
    assert still_open["level"] == 4  # it stays open whatever the others saw


def test_what_two_people_saw_as_failed_is_a_reason_to_strike_off(spring, cast):
    spring.yard.look(spring.fulmar, cast.hal.person, {"keel-joint-line": 4})
    spring.yard.recompute()
    fulmar = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.fulmar)
    # It is named once: as a finding, because it is likelier than not, and not again as a doubt.
    (keel,) = [one for one in fulmar["advice"] if one.get("checkpoint") == "keel-joint-line"]
    assert (keel["code"], keel["level"]) == ("walk_away_finding", 4)
    assert keel["probability"] > 1 / 2
    assert "a surveyor must judge it" in keel["sentence"]
    assert fulmar["before_buying"] == []


def test_what_a_professional_judged_failed_needs_no_other_to_judge_it(yard, cast):
    boat = yard.boat("Petrel", 26_000)
    found = {"wire-and-terminals": 4}  # nobody walks away from it: it costs what it costs
    yard.look(boat, cast.ben.person, found, capacity="professional", profession="rigger")
    yard.recompute()
    (row,) = cast.ben.get(f"/lists/{yard.list.pk}/board").json()["candidates"]
    (wire,) = row["before_buying"]
    assert wire["judged"]
    assert wire["sentence"].endswith(
        "It was judged by a rigger: know what putting it right costs before you buy."
    )


def test_what_a_receipt_settles_stops_nobody(yard, cast):
    boat = yard.boat("Petrel", 26_000)
    for who in (cast.ben.person, cast.bea.person):
        yard.look(boat, who, {"dated-safety-gear": 4})
    yard.recompute()
    (row,) = cast.ben.get(f"/lists/{yard.list.pk}/board").json()["candidates"]
    assert (row["open_doubts"], row["before_buying"]) == (1, [])
    assert "open_doubt" not in codes(row)
    reasons = cast.ben.get(f"/candidates/{boat.pk}/reasons").json()["reasons"]
    (gear,) = reasons["doubts"]
    assert gear["receipt"]
    assert gear["sentence"].endswith("Open until a receipt says that it was renewed or serviced.")


def test_over_the_budget_is_a_reason(spring, cast):
    CandidateList.objects.filter(pk=spring.yard.list.pk).update(budget=84_000)
    spring.yard.recompute()
    skua = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.skua)
    assert skua["within_budget"] < 0.2
    assert "over_budget" in codes(skua)


def test_a_broken_must_is_a_reason_in_words(spring, cast):
    spring.yard.want(
        cast.bea.person,
        kind="must",
        subject="particular",
        key="draught_m",
        test="at_most",
        value=1.2,
    )
    spring.yard.recompute()
    petrel = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.petrel)
    (broken,) = [one for one in petrel["advice"] if one["code"] == "must_broken"]
    assert broken["sentence"] == "Bea must have draught at most 1.2 m; this one has 1.5 m."


@pytest.mark.parametrize(
    ("facts", "sentence"),
    [
        (
            {"subject": "particular", "key": "rudder", "test": "one_of", "value": ["keel_hung"]},
            "Ben must have rudder keel hung; this one has not.",
        ),
        (
            {"subject": "checkpoint", "key": "engine-oil", "test": "at_most", "value": 1},
            "Ben must have engine oil at most 1; this one has",
        ),
    ],
)
def test_other_musts(spring, cast, facts, sentence):
    spring.yard.want(cast.ben.person, kind="must", **facts)
    spring.yard.recompute()
    fulmar = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.fulmar)
    (broken,) = [one for one in fulmar["advice"] if one["code"] == "must_broken"]
    assert broken["sentence"].startswith(sentence)


def test_a_free_must_is_judged_by_its_owner(spring, cast):
    want = spring.yard.want(cast.ben.person, kind="must", subject="free", text="a chart table")
    spring.yard.recompute()
    assert "must_broken" not in codes(
        spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.petrel)
    )
    want.judgements.create(candidate=spring.petrel, met=False)
    spring.yard.recompute()
    petrel = spring.row(cast.ben.get(f"{spring.path}/board").json(), spring.petrel)
    (broken,) = [one for one in petrel["advice"] if one["code"] == "must_broken"]
    assert broken["sentence"] == 'Ben must have "a chart table"; this one was judged not to be.'


# --- Orders and votes ----------------------------------------------------------------------------


def test_ballots_decide_the_votes_and_the_difference_is_told(spring, cast):
    order = [[spring.fulmar], [spring.petrel], [spring.skua]]
    for who in (cast.ola, cast.ben, cast.bea):
        spring.yard.ballot(who.person, *order)
    spring.yard.recompute()
    board = cast.ben.get(f"{spring.path}/board").json()
    assert [one["place"] for one in board["votes"]["schulze"]] == [1, 2, 3]
    assert board["votes"]["schulze"][0]["candidate_id"] == str(spring.fulmar.pk)
    assert board["votes"]["concordance"] == 1.0
    assert (
        "The board puts Petrel above Fulmar; the buyers' own orders, counted together, put them in "
        "the opposite order." in board["votes"]["sentences"]
    )
    assert {one["source"] for one in board["members"]} == {"ballot"}


def test_a_boat_nobody_orders_takes_no_part_in_the_votes(spring, cast):
    votes = cast.ben.get(f"{spring.path}/board").json()["votes"]
    assert str(spring.tern.pk) not in {one["candidate_id"] for one in votes["schulze"]}


def test_the_order_alone(spring, cast):
    order = cast.ben.get(f"{spring.path}/order").json()
    board = cast.ben.get(f"{spring.path}/board").json()
    assert order["votes"] == board["votes"]
    assert order["members"] == board["members"]
    assert "candidates" not in order


def test_who_is_far_from_the_group_and_over_which_boat(spring, cast):
    spring.yard.ballot(cast.ola.person, [spring.petrel], [spring.fulmar], [spring.skua])
    spring.yard.ballot(cast.bea.person, [spring.petrel], [spring.fulmar], [spring.skua])
    spring.yard.ballot(cast.ben.person, [spring.skua], [spring.petrel], [spring.fulmar])
    spring.yard.recompute()
    members = cast.ben.get(f"{spring.path}/order").json()["members"]
    ben = next(one for one in members if one["name"] == "Ben")
    assert ben["distance"] == pytest.approx(2 / 3, abs=0.01)
    assert ben["sentence"] == "Ben has Skua 2 places higher than the group."


# --- What it costs to read -----------------------------------------------------------------------


def test_constant_queries(yard, cast, django_assert_num_queries):
    path = f"/lists/{yard.list.pk}/board"
    yard.boat("Petrel")
    yard.recompute()
    cast.ben.get(path)  # a token's first use is noted
    with django_assert_num_queries(6) as few:
        assert len(cast.ben.get(path).json()["candidates"]) == 1
    fill(yard, [cast.ben.person, cast.bea.person, cast.hal.person], 12, looked=0.1)
    yard.recompute()
    with django_assert_num_queries(len(few)):
        assert len(cast.ben.get(path).json()["candidates"]) == 13


def test_recomputing_takes_constant_queries(cast, monkeypatch, settings):
    """After the first time, when the disagreements are recorded."""
    # How often it checks for newer inputs, and extends its lease, depends on the clock, not on the
    # number of boats.
    settings.APPRAISAL_LEASE = timedelta(hours=1)
    monkeypatch.setattr("apps.appraisal.jobs.SUPERSEDED_CHECK_SECONDS", float("inf"))
    load_catalogue()
    counts = []
    for boats in (1, 12):
        yard = Yard.of(cast.group, cast.ola.person)
        fill(yard, [cast.ben.person, cast.bea.person], boats, looked=0.1)
        yard.recompute()
        with CaptureQueriesContext(connection) as queries:
            yard.recompute()
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_the_worst_structural_level_is_beside_the_condition(spring, cast):
    """One failed checkpoint, the keel joint, which the average hides."""
    board = cast.ben.get(f"{spring.path}/board").json()
    fulmar = spring.row(board, spring.fulmar)
    assert fulmar["condition"]["worst_structural"] == {
        "level": 4,
        "checkpoint": "keel-joint-line",
        "title": "Line where keel meets hull",
    }
    assert any("Line where keel meets hull, failed" in one for one in fulmar["sentences"])
    assert spring.row(board, spring.petrel)["condition"]["worst_structural"]["level"] < 3


@pytest.mark.parametrize("valuation", [70_000, None])
def test_equal_boats_share_a_place(yard, cast, valuation):
    """Only the draws differ between them; the budget is near enough for these to matter."""
    # Fixed ids, because the draws depend on them.
    boats = [yard.boat(f"Boat {n}", id=UUID(int=n)) for n in range(1, 5)]
    assert [boat.pk.int for boat in boats] == [1, 2, 3, 4]
    for boat in boats[: 4 if valuation else 0]:
        yard.valuation(boat, cast.ben.person, valuation)
    yard.recompute()
    likely = yard.list.appraisal.standing["rows"][0]["upfront"]["likely"]
    type(yard.list).objects.filter(pk=yard.list.pk).update(budget=likely)
    yard.recompute()
    board = cast.ben.get(f"/lists/{yard.list.pk}/board").json()
    rows = board["candidates"]
    assert len({row["within_budget"] for row in rows}) > 1, "the draws do differ"
    assert [row["place"] for row in rows] == [1, 1, 1, 1]
    assert any("share a place are level" in sentence for sentence in board["sentences"])
    assert not any(one["code"] == "dominated" for row in rows for one in row["advice"])
    if valuation:
        (ben,) = [one for one in board["members"] if one["name"] == "Ben"]
        assert [one["place"] for one in ben["places"]] == [1, 1, 1, 1]
        assert board["votes"]["differs_from_board"] == []
    compared = cast.ben.get(f"/candidates/{boats[0].pk}/reasons").json()["reasons"]["compared"]
    assert all(one["level"] and not one["ahead"] for one in compared)
    assert "is level with her" in compared[0]["sentence"]
    csv = cast.ben.get(f"/lists/{yard.list.pk}/board.csv").content.decode()
    assert [line.split(",")[0] for line in csv.splitlines()[1:5]] == ["1"] * 4
