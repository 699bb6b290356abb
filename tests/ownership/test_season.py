"""The first season: a work list of the results, in months, with its cost by buyer."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.boats.models import Candidate
from apps.events.models import Event
from apps.ownership.models import SeasonSettings, WorkDecision
from apps.ownership.season.calendar import months_of, numbers_in
from apps.ownership.season.selectors import usual_settings
from apps.reckoning.outcomes import remaining_factor
from tests.conftest import pointers

SEASON = {
    "first_month": "2025-10-01",
    "months": 12,
    "own_hours": 30,
    "lift_months": [4, 10],
    "sailing_months": [6, 7, 8],
}


@pytest.fixture
def at(spring):
    """Fulmar: one of two saw her keel joint fail, her engine oil is bad, her deck cracked."""
    return f"/candidates/{spring.fulmar.pk}"


def read(who, at):
    answer = who.get(f"{at}/season")
    assert answer.status_code == 200, answer.content
    return answer.json()


def money(text):
    return Decimal(text)


def test_it_works(cast, at):
    made = cast.ben.put(f"{at}/season-settings", SEASON)
    assert made.status_code == 201, made.content
    assert made.json()["estimates"]
    assert Event.objects.latest("number").kind == "season.changed"
    said = read(cast.ivy, at)
    assert "not a survey" in said["caution"]
    assert {"ladders", "stands", "closed-spaces"} < {one["code"] for one in said["cautions"]}
    season = said["season"]
    planned = [one for one in season["work"] if one["state"] == "planned"]
    assert planned, "both said that her engine oil is bad"
    assert [one["month"] for one in season["months"]][0::11] == ["2025-10-01", "2026-09-01"]
    # Every sum by hand: jobs and enabling work make the months, and the parts make each month.
    jobs = sum(money(one["cost"]) for one in planned if one["begins"])
    enabling = sum(money(one["cost"]) * len(one["begins"]) for one in season["enabling"])
    assert money(season["planned"]) == jobs + enabling
    assert money(season["planned"]) == sum(money(one["cost"]) for one in season["months"])
    for month in season["months"]:
        assert sum(money(one["amount"]) for one in month["by_buyer"]) == money(month["cost"])
        assert month["own_hours"] <= 30
        if int(month["month"][5:7]) in SEASON["sailing_months"]:
            assert month["enabling"] == []
    lifted = [one for one in season["enabling"] if one["enabling"] == "lift-out"]
    assert [one["begins"] for one in lifted] == [["2025-10-01"]], "paid once for all that need it"


def test_safety_work_begins_no_later_than_the_rest(cast, at):
    cast.ben.put(f"{at}/season-settings", SEASON)
    work = read(cast.ben, at)["season"]["work"]
    safety = [one["begins"] for one in work if one["safety"] and one["begins"]]
    others = [one["begins"] for one in work if not one["safety"] and one["begins"]]
    assert safety
    assert max(safety) <= min(others, default="9999")
    assert all(one["because"] for one in work if one["safety"])


def test_an_odd_cent_goes_by_the_largest_remainder(cast, at):
    shares = [
        {"person": str(who.person.pk), "share": share}
        for who, share in ((cast.ola, "0.500000"), (cast.ben, "0.300000"), (cast.bea, "0.200000"))
    ]
    cast.ola.change("PUT", f"/groups/{cast.group.pk}/shares", {"shares": shares})
    month = next(one for one in read(cast.ben, at)["season"]["months"] if money(one["cost"]))
    parts = {one["person"]["name"]: money(one["amount"]) for one in month["by_buyer"]}
    cost = money(month["cost"])
    assert sum(parts.values()) == cost
    for name, share in (("Ola", "0.5"), ("Ben", "0.3"), ("Bea", "0.2")):
        assert abs(parts[name] - cost * Decimal(share)) < Decimal("0.01")


def test_the_group_decides_what_is_done(cast, at):
    work = read(cast.ben, at)["season"]["work"]
    remedy = next(one["remedy"] for one in work if one["state"] == "planned")
    decided = cast.ben.put(f"{at}/work/{remedy}", {"choice": "leave", "note": "Next year"})
    assert decided.status_code == 201, decided.content
    assert Event.objects.latest("number").kind == "work.decided"

    def item():
        return next(o for o in read(cast.bea, at)["season"]["work"] if o["remedy"] == remedy)

    assert (item()["state"], item()["begins"]) == ("left", None)
    assert item()["decision"]["note"] == "Next year"
    assert cast.bea.change("PUT", f"{at}/work/{remedy}", {"choice": "done"}).status_code == 200
    assert item()["state"] == "done"
    assert cast.bea.change("DELETE", f"{at}/work/{remedy}").status_code == 204
    assert (item()["state"], item()["decision"]) == ("planned", None)
    assert not WorkDecision.objects.exists()


def test_a_bill_moves_what_remains(cast, at):
    settings = cast.ben.put(f"{at}/season-settings", SEASON).json()
    before = {one["remedy"]: one for one in read(cast.ben, at)["season"]["work"]}
    remedy = next(code for code, one in before.items() if one["state"] == "planned")
    paid = money(settings["estimates"][remedy]) * 2
    bill = {
        "remedy": remedy,
        "paid": {"amount": f"{paid:.2f}", "currency": "USD"},
        "done_by": "professional",
        "document": "Invoice 9",
        "dated_on": "2025-05-20",
    }
    assert cast.ben.post(f"{at}/bills", bill).status_code == 201
    season = read(cast.ben, at)["season"]
    factor = remaining_factor([0.6931471805599453])
    assert season["bills"] == {"compared": 1, "factor": round(factor, 3)}
    assert 1 < factor < 2, "one bill moves the others, but not by as much as itself"
    assert "After 1 bill" in " ".join(season["sentences"])
    after = {one["remedy"]: one for one in season["work"]}
    assert (after[remedy]["state"], money(after[remedy]["paid"])) == ("done", paid)
    for code, one in after.items():
        if code != remedy and before[code]["state"] == "planned":
            assert float(one["cost"]) == pytest.approx(
                float(before[code]["cost"]) * factor, rel=1e-4
            )
    assert money(season["paid"]) == paid


def test_what_is_paid_of_work_that_goes_on_is_taken_off(cast, at):
    cast.ben.put(f"{at}/season-settings", SEASON)
    before = next(o for o in read(cast.ben, at)["season"]["work"] if o["state"] == "planned")
    bill = {
        "remedy": before["remedy"],
        "paid": {"amount": "10.00", "currency": "USD"},
        "done_by": "own",
        "document": "Receipt",
        "dated_on": "2025-05-20",
    }
    cast.ben.post(f"{at}/bills", bill)
    cast.ben.put(f"{at}/work/{before['remedy']}", {"choice": "plan"})
    season = read(cast.ben, at)["season"]
    after = next(one for one in season["work"] if one["remedy"] == before["remedy"])
    assert money(after["cost"]) == money(before["cost"]) - 10
    assert season["bills"] == {"compared": 0, "factor": 1.0}, "own work is not compared"


def test_what_she_costs_over_the_years_by_hand(cast, at):
    cast.ben.put(f"{at}/handover", {"price": {"amount": "15000.00", "currency": "USD"}})
    cast.ben.put(f"{at}/season-settings", {**SEASON, "resale": "9000.00"})
    said = read(cast.ben, at)
    keeping = said["keeping"]
    start = {one["code"]: float(one["amount"]) for one in keeping["start"]}
    assert start["price"] == 15_000
    assert start["planned"] == float(said["season"]["planned"])
    (case,) = keeping["cases"]
    rate, years, year = keeping["discount_rate"], keeping["years"], float(keeping["running_year"])
    total = sum(start.values()) + sum(year / (1 + rate) ** n for n in range(1, years + 1))
    total -= 9_000 / (1 + rate) ** years
    assert float(case["total"]) == pytest.approx(total, abs=0.02)
    assert sum(float(one["present"]) for one in case["by_year"]) == pytest.approx(total, abs=0.1)
    assert sum(money(one["amount"]) for one in case["by_buyer"]) == money(case["total"])


def test_without_a_resale_price_both_ends_are_shown(cast, at):
    cases = read(cast.ben, at)["keeping"]["cases"]
    assert [money(one["resale"]) == 0 for one in cases] == [True, False]
    assert money(cases[0]["total"]) > money(cases[1]["total"])


def test_too_little_money_in_a_month_is_said(cast, at):
    cast.ben.put(f"{at}/season-settings", {**SEASON, "most_a_month": "1.00"})
    season = read(cast.ben, at)["season"]
    assert money(season["planned"]) == 0
    assert "She does not sail before it" in season["sentences"][0]
    assert all(one["not_possible"] for one in season["work"] if one["state"] == "planned")


def test_a_boat_without_a_price_says_what_is_missing(cast, spring):
    said = read(cast.ben, f"/candidates/{spring.tern.pk}")
    assert (said["season"], said["keeping"]) == (None, None)
    assert "asking_price" in said["missing"]
    assert said["sentence"]


def test_later_settings_keep_the_first_estimates(cast, at):
    first = cast.ben.put(f"{at}/season-settings", SEASON).json()["estimates"]
    SeasonSettings.objects.update(estimates=dict.fromkeys(first, "7.00"))
    again = cast.bea.change("PUT", f"{at}/season-settings", {**SEASON, "own_hours": 5}).json()
    assert set(again["estimates"].values()) == {"7.00"}
    assert again["own_hours"] == 5


def test_bad_input_names_its_field(cast, at):
    for wrong, field in (
        ({"months": 0}, "/months"),
        ({"months": 25}, "/months"),
        ({"own_hours": -1}, "/own_hours"),
        ({"lift_months": [13]}, "/lift_months/0"),
        ({"most_a_month": "-1.00"}, "/most_a_month"),
        ({"first_month": "1066-10-01"}, "/first_month"),
    ):
        assert pointers(cast.ben.put(f"{at}/season-settings", {**SEASON, **wrong})) == {field}
    assert pointers(cast.ben.put(f"{at}/work/antifoul", {"choice": "perhaps"})) == {"/choice"}
    assert cast.ben.put(f"{at}/work/nonsense", {"choice": "plan"}).status_code == 404


def test_who_may_and_the_stale_edit(cast, at):
    assert cast.ben.put(f"{at}/season-settings", SEASON).status_code == 201
    assert cast.ben.put(f"{at}/season-settings", SEASON).status_code == 428
    cast.ben.put(f"{at}/work/antifoul", {"choice": "plan"})
    held = cast.ben.get(f"{at}/work/antifoul")["ETag"]
    own = f"{at}/work/antifoul"
    assert cast.ben.put(own, {"choice": "done"}, If_Match=held).status_code == 200
    assert cast.bea.put(own, {"choice": "leave"}, If_Match=held).status_code == 412
    for who, status in ((cast.ivy, 403), (cast.hal, 403), (cast.wim, 404), (cast.nobody, 401)):
        assert who.put(f"{at}/season-settings", SEASON).status_code == status
        assert who.put(own, {"choice": "plan"}).status_code == status
        assert who.send("DELETE", own).status_code == status
    for who, status in ((cast.ivy, 200), (cast.wim, 404), (cast.nobody, 401)):
        assert who.get(f"{at}/season").status_code == status


def test_reading_takes_as_many_queries_whatever_was_decided(cast, at):
    taken = []
    for remedy in ("antifoul", "barrier-coat", "treat-blisters"):
        cast.ben.put(f"{at}/work/{remedy}", {"choice": "plan"})
        read(cast.ben, at)
        with CaptureQueriesContext(connection) as queries:
            read(cast.ben, at)
        taken.append(len(queries))
    assert len(set(taken)) == 1


def test_months_go_over_the_end_of_the_year():
    months = months_of(date(2025, 11, 1), 14)
    assert (months[1], months[2], months[-1]) == (
        date(2025, 12, 1),
        date(2026, 1, 1),
        date(2026, 12, 1),
    )
    assert numbers_in(months, [12]) == {1, 13}


def test_until_somebody_says_otherwise_the_hours_are_the_briefs(spring, cast, at):
    """Without hours, work that the group does itself would have no month."""
    the_list = spring.yard.list
    the_list.own_hours = 130
    the_list.save()
    candidate = Candidate.objects.select_related("list").get(pk=spring.fulmar.pk)
    assert usual_settings(candidate).own_hours == 11  # 130 over twelve months, rounded up
    assert read(cast.ben, at)["settings"] is None
