"""A brief in another currency than the catalogue's: warnings, and amounts left out."""

import csv
import io
from decimal import Decimal

import pytest

from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from tests.appraisal.building import PARTICULARS, load_catalogue
from tests.conftest import Speaker
from tests.system.operations import operations

POINTER = "/brief/exchange_rates/USD"
# In USD, as the catalogue has them: fixtures/catalogue/remedies.toml and purchase.toml.
USUAL = {
    "yard_hourly_rate": 120,
    "survey_fee_per_m": 85,
    "survey_fee_minimum": 500,
    "survey_lift_out": 400,
    "registration": 500,
}


@pytest.fixture
def group(cast) -> str:
    load_catalogue()
    return f"/groups/{cast.group.pk}/lists"


def made(who: Speaker, group: str, currency: str = "EUR", **brief) -> dict:
    budget = {"amount": "60000", "currency": currency}
    answer = who.post(
        group, {"name": "Spring", "brief": {"currency": currency, "budget": budget, **brief}}
    )
    assert answer.status_code == 201, answer.content
    assert operations()["lists_create"].faults_of(answer) == []
    return answer.json()


def amounts(shown: dict) -> dict[str, Decimal | None]:
    brief = shown["brief"]
    return {name: brief[name] and Decimal(brief[name]["amount"]) for name in USUAL}


def codes(shown: dict) -> list[tuple[str, str]]:
    return [(one["code"], one["pointer"]) for one in shown["warnings"]]


MISSING = [("no_exchange_rate", POINTER)]


def test_it_is_said_when_the_list_is_made_and_whenever_it_is_read(cast, group):
    shown = made(cast.ola, group)
    assert codes(shown) == MISSING
    (warning,) = shown["warnings"]
    assert warning["sentence"] == (
        "No boat on this list can be priced: the catalogue's figures are in USD, and the brief has "
        "no exchange rate for it. Give the value of one USD in EUR."
    )
    path = f"/lists/{shown['id']}"
    assert codes(cast.ivy.get(path).json()) == MISSING
    assert [codes(one) for one in cast.ivy.get(group).json()["results"]] == [MISSING]
    renamed = cast.ola.change("PATCH", path, {"name": "Autumn"})
    assert codes(renamed.json()) == MISSING


def test_what_mends_it(cast, group):
    """The field that the pointer names, in the very body it points into."""
    path = f"/lists/{made(cast.ola, group)['id']}"
    mended = cast.ola.change("PATCH", path, {"brief": {"exchange_rates": {"USD": "0.9"}}})
    assert mended.status_code == 200, mended.content
    assert codes(mended.json()) == []
    assert codes(cast.ola.get(path).json()) == []


@pytest.mark.parametrize("brief", [{"exchange_rates": {"USD": "0.9"}}, {"currency": "USD"}])
def test_nothing_is_said_where_nothing_is_missing(cast, group, brief):
    assert codes(made(cast.ola, group, **brief)) == []


def test_amounts_left_out_are_the_catalogues_in_the_lists_currency(cast, group):
    shown = made(cast.ola, group, exchange_rates={"USD": "0.9"})
    assert amounts(shown) == {name: Decimal(amount) * 9 / 10 for name, amount in USUAL.items()}
    in_dollars = made(cast.ola, group, currency="USD")
    assert amounts(in_dollars) == {name: Decimal(amount) for name, amount in USUAL.items()}


def test_without_a_rate_they_are_not_read_as_if_they_were_in_it(cast, group):
    shown = made(cast.ola, group, currency="JPY")
    assert set(amounts(shown).values()) == {None}
    path = f"/lists/{shown['id']}"
    mended = cast.ola.change("PATCH", path, {"brief": {"exchange_rates": {"USD": "150"}}}).json()
    assert amounts(mended) == {name: Decimal(150 * amount) for name, amount in USUAL.items()}
    # They belong to the list now: another rate does not change amounts that people saw and kept.
    again = cast.ola.change("PATCH", path, {"brief": {"exchange_rates": {"USD": "140"}}}).json()
    assert amounts(again) == amounts(mended)


def test_what_was_said_stays(cast, group):
    said = {"yard_hourly_rate": {"amount": "70", "currency": "EUR"}}
    shown = made(cast.ola, group, **said)
    assert amounts(shown)["yard_hourly_rate"] == 70
    path = f"/lists/{shown['id']}"
    mended = cast.ola.change("PATCH", path, {"brief": {"exchange_rates": {"USD": "0.9"}}}).json()
    assert amounts(mended) == {
        **{name: Decimal(amount) * 9 / 10 for name, amount in USUAL.items()},
        "yard_hourly_rate": 70,
    }


def test_a_list_that_was_made_without_amounts_is_reckoned_with_the_catalogues(cast, group):
    kept = CandidateList.objects.create(
        group=cast.group, name="Bare", currency="EUR", budget=9_000, exchange_rates={"USD": "0.5"}
    )
    brief = read_inputs(kept.pk).brief
    assert {name: getattr(brief, name) for name in USUAL} == {
        name: amount / 2 for name, amount in USUAL.items()
    }


# --- What follows for results --------------------------------------------------------------------


def priced(who: Speaker, group: str, currency: str, rate: str | None) -> str:
    """A computed list with one boat and valuations."""
    brief = {"exchange_rates": {"USD": rate}} if rate else {}
    path = f"/lists/{made(who, group, currency, **brief)['id']}"
    boat = {"name": "Petrel", **PARTICULARS}
    asking = {"amount": "30000" if currency != "JPY" else "4500000", "currency": currency}
    answer = who.post(f"{path}/candidates", {**boat, "asking": asking})
    assert answer.status_code == 201, answer.content
    list_recompute(list_id=path.rpartition("/")[2])
    return path


def test_the_board_says_it_first(cast, group):
    path = priced(cast.ola, group, "EUR", None)
    board = cast.ola.get(f"{path}/board").json()
    assert codes(board) == MISSING
    assert board["candidates"][0]["missing"] == ["exchange_rate:USD"]
    sentence = board["warnings"][0]["sentence"]
    table = list(csv.reader(io.StringIO(cast.ola.get(f"{path}/board.csv").content.decode())))
    assert table[1] == ["", sentence], "before any boat"
    page = " ".join(cast.ola.get(f"{path}/board.html").content.decode().split())
    shown = sentence.replace("'", "&#x27;")
    assert 0 < page.index(shown) < page.index("Petrel")
    brief = " ".join(cast.ola.get(f"{path}/decision-brief.html").content.decode().split())
    assert 0 < brief.index(shown) < brief.index("In short")
    assert sentence.split(":")[0] in cast.ola.get(f"{path}/board.svg").content.decode()


def test_every_result_says_it(cast, group):
    path = priced(cast.ola, group, "EUR", None)
    (boat,) = cast.ola.get(f"{path}/candidates").json()["results"]
    for what in ("next-looks", "raters", "order"):
        assert codes(cast.ola.get(f"{path}/{what}").json()) == MISSING
    for what in ("rollup", "consensus", "reasons", "explanation"):
        assert codes(cast.ola.get(f"/candidates/{boat['id']}/{what}").json()) == MISSING


def test_an_empty_list_says_it_too(cast, group):
    path = f"/lists/{made(cast.ola, group)['id']}"
    assert codes(cast.ola.get(f"{path}/board").json()) == MISSING


def test_costs_left_out_are_worth_the_same_in_any_currency(cast, group):
    """At a rate of 150, the usual amounts are 150 times as much."""
    fees = {}
    for currency, rate in (("USD", None), ("JPY", "150")):
        path = priced(cast.ola, group, currency, rate)
        (boat,) = cast.ola.get(f"{path}/candidates").json()["results"]
        rollup = cast.ola.get(f"/candidates/{boat['id']}/rollup").json()["rollup"]
        fees[currency] = {
            one["code"]: float(one["amount"]["amount"]) for one in rollup["purchase_costs"]
        } | {"remedies": sum(float(one["price"]["amount"]) for one in rollup["remedies"])}
    assert fees["JPY"].keys() == fees["USD"].keys()
    for name, amount in fees["USD"].items():
        assert fees["JPY"][name] == pytest.approx(150 * amount, rel=0.02), name


def test_a_usual_trip_is_not_taken_for_a_hundred_of_anything(cast, group):
    costs = {}
    for currency, rate in (("USD", None), ("JPY", "150"), ("EUR", None)):
        path = priced(cast.ola, group, currency, rate)
        answer = cast.ola.get(f"{path}/next-looks")
        assert operations()["next_looks_read"].faults_of(answer) == []
        cost = answer.json()["trip_cost"]
        costs[currency] = cost and cost["amount"]
        if currency == "EUR":
            assert answer.json()["settled"] is False
    assert costs == {"USD": "100.00", "JPY": "15000.00", "EUR": None}
