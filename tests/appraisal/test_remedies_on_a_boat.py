"""A remedy's cost on a boat, by how her keel is made and by her price."""

from decimal import Decimal

import pytest

from tests.appraisal.building import PARTICULARS, Yard

FAILED_BOLTS = {"keel-bolts-inside": 4}
UNPAID = {"tax-and-conformity": 4}
LENGTH = PARTICULARS["loa_m"] / 10.0


def price(cast, boat, remedy: str) -> float:
    """Expected price of one unit of a remedy that the boat may need."""
    figures = cast.ben.get(f"/candidates/{boat.pk}/rollup").json()["rollup"]
    row = next(row for row in figures["remedies"] if row["remedy"] == remedy)
    return float(row["price"]["amount"])


def three_points(low: float, likely: float, high: float) -> float:
    return (low + 4 * likely + high) / 6


@pytest.mark.parametrize(
    ("ballast", "points"),
    [
        ("iron", (1_500, 3_500, 8_000)),
        ("lead", (4_000, 8_000, 16_000)),
        ("", (1_500, 5_500, 16_000)),
    ],
)
def test_keel_bolts_cost_by_what_the_keel_is_made_of(yard, cast, ballast, points):
    boat = yard.boat("Petrel", keel_ballast=ballast)
    yard.look(boat, cast.ben.person, FAILED_BOLTS)
    yard.recompute()
    expected = three_points(*points) * LENGTH**2.5
    assert price(cast, boat, "renew-keel-bolts") == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("currency", ["USD", "EUR"])
@pytest.mark.parametrize("asking", [20_000, 60_000])
def test_tax_that_is_owed_is_a_share_of_her_price(cast, yard, currency, asking):
    rate = 0.9 if currency == "EUR" else 1.0
    if currency == "EUR":
        rates = {"exchange_rates": {"USD": "0.9"}}
        yard = Yard.of(cast.group, cast.ola.person, currency="EUR", **rates)
    boat = yard.boat("Petrel", asking)
    yard.look(boat, cast.ben.person, UNPAID)
    yard.recompute()
    paid = asking * rate * float(yard.list.expected_price_share)
    share = three_points(0.05, 0.20, 0.25)
    assert price(cast, boat, "pay-tax-owed") == pytest.approx(share * paid, rel=0.01)


def test_a_quote_in_its_place_is_what_is_owed(cast, yard):
    from apps.purchase.models import Quote

    boat = yard.boat("Petrel", 20_000)
    yard.look(boat, cast.ben.person, UNPAID)
    Quote.objects.create(
        candidate=boat,
        remedy_id="pay-tax-owed",
        amount=Decimal(2_222),
        currency="USD",
        firmness="fixed",
        from_whom="The tax office",
        dated_on="2026-01-10",
        added_by=cast.ola.person,
    )
    yard.recompute()
    assert price(cast, boat, "pay-tax-owed") == 2_222
