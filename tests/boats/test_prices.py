"""Asking prices of a boat over time."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import PriceRecord
from tests.boats.conftest import events, queries_of, revision, usd
from tests.conftest import pointers


def post(cast, boat_id, amount="22000.00", who="ben", headers=None, **more):
    body = {"asking": usd(amount), **more}
    return getattr(cast, who).post(f"/candidates/{boat_id}/prices", body, **(headers or {}))


def asking(cast, boat_id):
    return cast.ivy.get(f"/candidates/{boat_id}").json()["asking"]


def test_it_works(cast, list_id, boat_id):
    before = revision(list_id)
    made = post(cast, boat_id, note="after a month")
    assert made.status_code == 201, made.content
    assert made.json()["asking"] == usd("22000.00")
    assert made.json()["asked_on"] == str(timezone.now().date())
    assert made.json()["by"]["name"] == "Ben"
    assert asking(cast, boat_id) == usd("22000.00")
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "candidate.price_noted"


def test_the_advert_is_kept_with_the_price_of_its_day(cast, boat_id):
    advert = {
        "advert_link": "https://boats.example.org/heron",
        "advert_text": "Dry ship.\nOne owner.",
    }
    first = post(cast, boat_id, asked_on="2024-09-15", **advert)
    assert first.status_code == 201, first.content
    post(cast, boat_id, "21000.00", asked_on="2025-03-01", advert_text="Must go.")
    rows = cast.ivy.get(f"/candidates/{boat_id}/prices").json()["results"]
    kept = {row["asked_on"]: (row["advert_link"], row["advert_text"]) for row in rows}
    assert kept["2024-09-15"] == tuple(advert.values())
    assert kept["2025-03-01"] == ("", "Must go.")


def test_what_is_no_web_address_or_too_long_is_refused(cast, boat_id):
    refused = post(cast, boat_id, advert_link="javascript:alert(1)", advert_text="x" * 20_001)
    assert pointers(refused) == {"/advert_link", "/advert_text"}


def test_the_newest_day_is_the_current_price(cast, list_id, boat_id):
    post(cast, boat_id, "22000.00", asked_on="2025-03-01")
    before = revision(list_id)
    post(cast, boat_id, "26000.00", asked_on="2024-09-15")  # found in an old advertisement
    assert asking(cast, boat_id) == usd("22000.00")
    assert revision(list_id) == before
    post(cast, boat_id, "21000.00", asked_on="2025-03-01")  # the same day, noted later
    assert asking(cast, boat_id) == usd("21000.00")
    rows = cast.ivy.get(f"/candidates/{boat_id}/prices").json()["results"]
    assert [row["asking"]["amount"] for row in rows] == ["22000.00", "26000.00", "21000.00"]


def test_another_currency_needs_a_rate(cast, list_id, boat_id):
    euros = {"asking": {"amount": "20000.00", "currency": "EUR"}}
    refused = cast.ben.post(f"/candidates/{boat_id}/prices", euros)
    assert pointers(refused) == {"/asking/currency"}
    assert refused.json()["errors"][0]["code"] == "no_exchange_rate"
    cast.ola.change("PATCH", f"/lists/{list_id}", {"brief": {"exchange_rates": {"EUR": "1.08"}}})
    assert cast.ben.post(f"/candidates/{boat_id}/prices", euros).status_code == 201
    assert asking(cast, boat_id) == euros["asking"]


def test_bad_fields_are_named(cast, boat_id):
    soon = timezone.now().date() + timedelta(days=2)
    assert pointers(post(cast, boat_id, asked_on=str(soon))) == {"/asked_on"}
    assert pointers(post(cast, boat_id, asked_on="spring")) == {"/asked_on"}
    assert pointers(post(cast, boat_id, "-1")) == {"/asking/amount"}
    assert pointers(post(cast, boat_id, price="1")) == {"/price"}
    assert pointers(cast.ben.post(f"/candidates/{boat_id}/prices", {})) == {"/asking"}
    assert not PriceRecord.objects.exists()


def test_it_does_not_exist_for_strangers(cast, boat_id):
    for stranger in ("sten", "wim"):
        assert post(cast, boat_id, who=stranger).status_code == 404
        assert getattr(cast, stranger).get(f"/candidates/{boat_id}/prices").status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_buyers_note_prices(cast, boat_id, who):
    assert post(cast, boat_id, who=who).status_code == 403


def test_a_repeat_is_answered_once(cast, boat_id):
    first = post(cast, boat_id, headers={"Idempotency_Key": "k1"})
    again = post(cast, boat_id, headers={"Idempotency_Key": "k1"})
    assert again.json() == first.json()
    assert PriceRecord.objects.count() == 1


def test_constant_queries(cast, boat_id):
    path = f"/candidates/{boat_id}/prices"
    post(cast, boat_id)
    one = queries_of(lambda: cast.ivy.get(path))
    for n in range(5):
        post(cast, boat_id, f"{20_000 - n}.00")
    assert queries_of(lambda: cast.ivy.get(path)) == one == 3  # token, candidate, prices
