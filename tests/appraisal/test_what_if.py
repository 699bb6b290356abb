"""The board as it would be, with nothing stored."""

import pytest
from django.apps import apps
from django.utils import timezone

from apps.appraisal.compute import bounds
from apps.appraisal.words.changes import changed
from apps.boats.list_models import CandidateList
from tests.conftest import pointers


def usd(amount: int) -> dict:
    return {"amount": f"{amount}.00", "currency": "USD"}


def ask(spring, who, **changes) -> dict:
    answer = who.post(f"{spring.path}/what-if", changes)
    assert answer.status_code == 200, answer.content
    return answer.json()


def row(answer: dict, boat) -> dict:
    return next(one for one in answer["candidates"] if one["candidate_id"] == str(boat.pk))


def test_it_works(spring, cast):
    CandidateList.objects.filter(pk=spring.yard.list.pk).update(budget=84_000)
    spring.yard.recompute()
    answer = ask(spring, cast.ben, budget=usd(200_000))
    skua = row(answer, spring.skua)
    assert skua["now"]["within_budget"] < 0.2
    assert skua["then"]["within_budget"] > 0.9
    assert "over_budget" in {one["code"] for one in skua["now"]["advice"]}
    assert "over_budget" not in {one["code"] for one in skua["then"]["advice"]}
    assert "not a survey" in answer["caution"]


def test_now_is_what_the_board_says(spring, cast):
    board = cast.ben.get(f"{spring.path}/board").json()
    for one in ask(spring, cast.ben, budget=usd(90_000))["candidates"]:
        stored = next(r for r in board["candidates"] if r["candidate_id"] == one["candidate_id"])
        assert one["now"]["all_in"] == stored["all_in"]
        assert one["now"]["place"] == stored["place"]
        assert one["then"] == one["now"]


def rows_everywhere() -> dict[str, list]:
    return {
        model._meta.label: list(model._base_manager.order_by("pk").values())
        for model in apps.get_models()
        if model._meta.app_label in ("boats", "viewings", "purchase", "appraisal", "events")
    }


def test_it_stores_nothing(spring, cast):
    cast.ivy.get(f"{spring.path}/board")
    before = rows_everywhere()
    finding = {"candidate_id": str(spring.petrel.pk), "checkpoint": "engine-oil", "level": 4}
    price = {"candidate_id": str(spring.petrel.pk), "asking": usd(1)}
    ask(
        spring,
        cast.ivy,
        budget=usd(1),
        findings=[finding],
        prices=[price],
        quotes=[quote_for(spring.petrel, 5)],
    )
    assert rows_everywhere() == before


def test_another_price(spring, cast):
    price = {"candidate_id": str(spring.tern.pk), "asking": usd(20_000)}
    tern = row(ask(spring, cast.ben, prices=[price]), spring.tern)
    assert tern["now"]["missing"] == ["asking_price"]
    assert tern["then"]["missing"] == []
    assert tern["then"]["all_in"] is not None


def test_a_dearer_yard(spring, cast):
    petrel = row(ask(spring, cast.ben, yard_hourly_rate=usd(300)), spring.petrel)
    assert float(petrel["then"]["all_in"]["mean"]) > float(petrel["now"]["all_in"]["mean"]) + 1000


def quote_for(boat, amount: int, remedy: str = "drop-and-rebed-keel", **more) -> dict:
    return {"candidate_id": str(boat.pk), "remedy": remedy, "price": usd(amount), **more}


def test_a_quote_counts_as_one_that_is_on_record(spring, cast):
    """The same figures as on the board with that quote; the other boat's figures stay."""
    tried = ask(spring, cast.ben, quotes=[quote_for(spring.fulmar, 9_000)])
    fulmar, petrel = row(tried, spring.fulmar), row(tried, spring.petrel)
    assert fulmar["then"]["all_in"] != fulmar["now"]["all_in"]
    assert petrel["then"]["all_in"] == petrel["now"]["all_in"]
    body = {
        "remedy": "drop-and-rebed-keel",
        "price": usd(9_000),
        "firmness": "fixed",
        "from_whom": "the yard",
        "dated_on": timezone.localdate().isoformat(),
    }
    added = cast.ben.post(f"/candidates/{spring.fulmar.pk}/quotes", body)
    assert added.status_code == 201, added.content
    spring.yard.recompute()
    board = cast.ben.get(f"{spring.path}/board").json()
    assert spring.row(board, spring.fulmar)["all_in"] == fulmar["then"]["all_in"]


def test_a_quote_replaces_the_one_that_counts(spring, cast):
    dear = row(ask(spring, cast.ben, quotes=[quote_for(spring.fulmar, 20_000)]), spring.fulmar)
    twice = [quote_for(spring.fulmar, 20_000), quote_for(spring.fulmar, 1_000)]
    cheap = row(ask(spring, cast.ben, quotes=twice), spring.fulmar)
    assert float(cheap["then"]["all_in"]["mean"]) < float(dear["then"]["all_in"]["mean"])
    assert cheap["then"]["within_budget"] > dear["then"]["within_budget"]


def test_a_quote_with_the_lift_out_in_it_costs_less(spring, cast):
    """By the lift where nothing else needs one: a keel is hardly ever the only work below water."""

    def all_in(**more) -> float:
        quote = quote_for(spring.fulmar, 9_000, "antifoul", **more)
        tried = ask(spring, cast.ben, quotes=[quote])
        return float(row(tried, spring.fulmar)["then"]["all_in"]["mean"])

    assert all_in(includes_enabling=True) < all_in()


def test_what_changes_is_said(spring, cast):
    tried = ask(spring, cast.ben, quotes=[quote_for(spring.fulmar, 20_000)])
    fulmar = row(tried, spring.fulmar)
    assert fulmar["sentence"].startswith("Up front probably ")
    assert "; all in probably " in fulmar["sentence"]
    assert " USD instead of " in fulmar["sentence"]
    assert row(tried, spring.petrel)["sentence"] == "Nothing changes for her."
    tern = row(tried, spring.tern)
    assert tern["sentence"] == "She cannot be priced: nobody gave an asking price."


def test_a_chance_and_a_place_are_said():
    def standing(likely: int, within: float | None, place: int | None) -> dict:
        figure = f"{likely}.00"
        cost = None if within is None else {"likely": figure, "mean": figure, "currency": "USD"}
        missing = ["asking_price"] if within is None else []
        return {
            "missing": missing,
            "upfront": cost,
            "all_in": cost,
            "within_budget": within,
            "place": place,
        }

    assert changed(standing(30_000, 0.8, 1), standing(31_000, 0.6, 2)) == (
        "Up front probably 31,000 USD instead of 30,000 USD; all in probably 31,000 USD instead of "
        "30,000 USD; within the budget 60% likely instead of 80% likely; place 2 instead of 1."
    )
    assert changed(standing(0, None, 3), standing(31_000, 0.6, 3)) == (
        "Up front probably 31,000 USD; all in probably 31,000 USD; within the budget 60% likely."
    )
    assert changed(standing(30_000, 0.8, None), standing(30_000, 0.8, None)) == (
        "Nothing changes for her."
    )


def test_own_work(spring, cast):
    petrel = row(ask(spring, cast.ben, own_remedies=["antifoul"], own_hours=1000), spring.petrel)
    assert float(petrel["then"]["all_in"]["mean"]) < float(petrel["now"]["all_in"]["mean"])


def test_one_finding(spring, cast):
    finding = {"candidate_id": str(spring.petrel.pk), "checkpoint": "keel-joint-line", "level": 4}
    petrel = row(ask(spring, cast.ben, findings=[finding]), spring.petrel)
    assert petrel["then"]["open_doubts"] == petrel["now"]["open_doubts"] + 1
    speaking = [*petrel["then"]["advice"], *petrel["then"]["before_buying"]]
    assert "keel-joint-line" in {one.get("checkpoint") for one in speaking}
    assert float(petrel["then"]["all_in"]["mean"]) > float(petrel["now"]["all_in"]["mean"])


def test_one_person_left_out(spring, cast):
    fulmar = row(ask(spring, cast.ben, without_person=str(cast.ben.person.pk)), spring.fulmar)
    assert fulmar["then"]["open_doubts"] < fulmar["now"]["open_doubts"]


def test_what_buyers_think_is_not_in_it(spring, cast):
    for one in ask(spring, cast.ivy, budget=usd(70_000))["candidates"]:
        assert not {"valuation", "utility", "surplus"} & (one["now"].keys() | one["then"].keys())


def test_strangers(spring, cast):
    for who in (cast.wim, cast.sten):
        assert who.post(f"{spring.path}/what-if", {"budget": usd(1)}).status_code == 404


@pytest.mark.parametrize(
    ("body", "at"),
    [
        ({}, ""),
        ({"budget": {"amount": "1.00", "currency": "EUR"}}, "/budget/currency"),
        ({"budget": {"amount": "-1.00", "currency": "USD"}}, "/budget/amount"),
        ({"own_remedies": ["antifoul", "polish-the-bell"]}, "/own_remedies/1"),
        ({"own_hours": -1}, "/own_hours"),
        ({"tide": 1}, "/tide"),
        ({"without_person": "01890a5d-ac96-774b-bcce-b302099a8057"}, "/without_person"),
    ],
)
def test_bad_fields_are_named(spring, cast, body, at):
    assert pointers(cast.ben.post(f"{spring.path}/what-if", body)) == {at}


def test_bad_fields_inside_are_named(spring, cast):
    elsewhere = "01890a5d-ac96-774b-bcce-b302099a8057"
    findings = [
        {"candidate_id": elsewhere, "checkpoint": "engine-oil", "level": 1},
        {"candidate_id": str(spring.petrel.pk), "checkpoint": "bell", "level": 1},
        {"candidate_id": str(spring.petrel.pk), "checkpoint": "lifting-keel-gear", "level": 1},
    ]
    prices = [{"candidate_id": elsewhere, "asking": {"amount": "1.00", "currency": "NOK"}}]
    quotes = [
        {"candidate_id": elsewhere, "remedy": "drop-and-rebed-keel", "price": usd(1)},
        quote_for(spring.petrel, 1, "polish-the-bell"),
        {**quote_for(spring.petrel, 1), "price": {"amount": "1.00", "currency": "NOK"}},
    ]
    body = {"findings": findings, "prices": prices, "quotes": quotes}
    refused = cast.ben.post(f"{spring.path}/what-if", body)
    assert pointers(refused) == {
        "/findings/0/candidate_id",
        "/findings/1/checkpoint",
        "/findings/2/checkpoint",
        "/prices/0/candidate_id",
        "/prices/0/asking/currency",
        "/quotes/0/candidate_id",
        "/quotes/1/remedy",
        "/quotes/2/price/currency",
    }
    bad_level = [{"candidate_id": str(spring.petrel.pk), "checkpoint": "engine-oil", "level": 5}]
    refused = cast.ben.post(f"{spring.path}/what-if", {"findings": bad_level})
    assert pointers(refused) == {"/findings/0/level"}


def test_it_is_bounded(spring, cast, monkeypatch):
    monkeypatch.setattr(bounds, "MOST_BOATS", 3)
    refused = cast.ben.post(f"{spring.path}/what-if", {"budget": usd(1)})
    assert pointers(refused) == {""}
    assert refused.json()["errors"][0]["code"] == "too_large"
    assert cast.ben.get(f"{spring.path}/next-looks?where=afloat").status_code == 422
