"""The catalogue's amounts compared with published figures or common knowledge of the trade.

Owners' reports and yards' lists were seen in print or online; each is one case, moved to the base
year by consumer prices. What has no source says so.
"""

import json
from math import hypot
from pathlib import Path

import pytest

from apps.catalogue import vocabulary
from apps.catalogue.checking import reference_price
from apps.catalogue.content import EnablingEntry, FeeEntry, RemedyEntry, ThreePoints
from tests.catalogue.real import REAL as CATALOGUE

MONEY = CATALOGUE.money
FOOT = 0.3048


def total(*parts: ThreePoints) -> ThreePoints:
    return ThreePoints(
        sum(part.low for part in parts),
        sum(part.likely for part in parts),
        sum(part.high for part in parts),
    )


def cost(code: str, feet: float, times: float = 1, **built_of: str) -> ThreePoints:
    """A remedy or enabling work on a boat of this length, at the catalogue's yard rate."""
    remedy = CATALOGUE.remedies.get(code)
    work: RemedyEntry | EnablingEntry = remedy.on(built_of) if remedy else CATALOGUE.enabling[code]
    scale = times * (feet * FOOT / MONEY.basis.reference_loa_m) ** work.loa_exponent
    return ThreePoints(
        *(
            scale
            * (getattr(work.hours, at) * getattr(MONEY.yard_rate, at) + getattr(work.parts, at))
            for at in ("low", "likely", "high")
        )
    )


def fee(row: FeeEntry, feet: float, value: float = 0) -> ThreePoints:
    times = {"m": feet * FOOT, "boat": 1, "value": value}[row.per]
    return ThreePoints(times * row.cost.low, times * row.cost.likely, times * row.cost.high)


def in_base_year(amount: float, year: int) -> float:
    return amount / MONEY.price_ratio(year)


# --- Rules of thumb: common practice, no source --------------------------------------------------


def test_standing_rigging_of_a_38_foot_boat_costs_about_5000():
    rig = cost("renew-standing-rigging", feet=38)
    assert rig.low < 5_000 < rig.high


def test_a_survey_of_a_38_foot_boat_costs_about_2000():
    fees = CATALOGUE.fees
    day = total(fee(fees["survey"], 38), fee(fees["survey-lift"], 38))
    assert day.low < 2_000 < day.high
    checks = ("rig-check", "engine-survey", "sea-trial")
    whole = total(day, *(fee(fees[code], 38) for code in checks))
    assert whole.low < 2_000 < whole.high


def test_a_year_with_a_34_foot_boat_worth_40000():
    # Berth, storage, haul, upkeep, insurance and reserves: about 6,400, 9,900 and 16,000.
    year = total(*(fee(row, 34, value=40_000) for row in CATALOGUE.running.values()))
    assert year.low == pytest.approx(6_400, rel=0.02)
    assert year.likely == pytest.approx(9_900, rel=0.02)
    assert year.high == pytest.approx(16_000, rel=0.02)


def test_jobs_done_together_on_a_34_foot_boat():
    """One lift and one unstepping serve them all. Sums worked by hand in feet: low 8,634, likely
    17,006, high 33,848, mean 18,418; spread 1,783 if every job varies on its own, 4,202 if all
    vary together. The catalogue's figures are rounded at 10 m, hence the tolerance.
    """
    jobs = [
        cost("lift-out", 34),
        cost("mast-down", 34),
        cost("renew-standing-rigging", 34),
        cost("renew-chainplates", 34, times=2),
        cost("rewire-mast", 34),
        cost("reseal-keel-joint", 34),
        cost("renew-seacock", 34, times=4),
    ]
    together = total(*jobs)
    assert together.low == pytest.approx(8_634, rel=0.02)
    assert together.likely == pytest.approx(17_006, rel=0.02)
    assert together.high == pytest.approx(33_848, rel=0.02)
    assert together.mean == pytest.approx(18_418, rel=0.02)
    spreads = [(job.high - job.low) / 6 for job in jobs]
    assert sum(spreads) == pytest.approx(4_202, rel=0.02)
    # Items of one kind vary together: two chainplates and four seacocks count as one job each.
    assert hypot(*spreads) == pytest.approx(1_783, rel=0.05)


def test_the_three_point_mean():
    # Malcolm, Roseboom, Clark and Fazar (1959), from memory: (a + 4 m + b) / 6.
    assert ThreePoints(2, 5, 14).mean == 6


# --- Owners' reports and price lists -------------------------------------------------------------


@pytest.mark.parametrize(
    ("codes", "feet", "amount", "year"),
    [
        # Standing rigging: a trade guide of about 2025, two owners, and a rigger's 100 a foot.
        (["renew-standing-rigging"], 38, 8_000, 2024),
        (["renew-standing-rigging"], 36, 6_800, 2020),
        (["renew-standing-rigging"], 32, 3_200, 2019),
        # One owner's bill for unstepping and stepping.
        (["mast-down"], 36, 2_400, 2020),
        # Rudders: two owners, of a rebuilt blade and of all that went with one.
        (["rebuild-rudder", "lift-out"], 27, 4_300, 2017),
        (["rebuild-rudder", "lift-out"], 46, 8_000, 2019),
        # A keel dropped, rebolted and rebedded; the boat's length was not told.
        (["drop-and-rebed-keel", "renew-keel-bolts", "lift-out"], 34, 9_500, 2010),
        # The same as quoted to another owner: "over 25,000".
        (["drop-and-rebed-keel", "renew-keel-bolts", "lift-out"], 34, 25_000, 2023),
        # New diesels: one owner helped; the first boat's length was not told.
        (["repower", "engine-out"], 34, 12_400, 2007),
        (["repower", "engine-out"], 39, 23_800, 2010),
        # A square foot of deck core, a yard's estimate.
        (["deck-core-large"], 34, 250, 2006),
        # A bottom peeled and laminated anew, storage apart; told in money of 2024.
        (["peel-and-relaminate"], 30, 14_800, 2024),
        # Hauling by the foot from two yards' lists, with stands at about 125.
        (["lift-out"], 34, 34 * 11.55 + 125, 2024),
        (["lift-out"], 34, 34 * 13.50 + 125, 2024),
        # Antifouling by the foot from a yard's list.
        (["antifoul"], 34, 34 * 25, 2024),
    ],
)
def test_what_people_paid_lies_within_the_range(codes, feet, amount, year):
    job = total(*(cost(code, feet) for code in codes))
    assert job.low < in_base_year(amount, year) < job.high


@pytest.mark.parametrize(
    ("ballast", "points"),
    [("iron", (1_500, 3_500, 8_000)), ("lead", (4_000, 8_000, 16_000))],
)
def test_keel_bolts_of_a_ten_metre_boat(ballast, points):
    # A surveyor's figures (project's own estimate): bolts of an iron keel are renewed in the yard,
    # a lead keel's are cast in.
    bolts = cost("renew-keel-bolts", 10 / FOOT, keel_ballast=ballast)
    assert (bolts.low, bolts.likely, bolts.high) == pytest.approx(points)


def test_tax_owed_is_a_share_of_the_price():
    # Standard rates of value added tax, from memory: UK 20%, Luxembourg 17%, Hungary 27%.
    owed = CATALOGUE.remedies["pay-tax-owed"]
    assert owed.by_price
    shares = [part / 10_000 for part in (owed.parts.low, owed.parts.likely, owed.parts.high)]
    assert shares == [0.05, 0.20, 0.25]
    triggers = {c.code: c for c in CATALOGUE.checkpoints["tax-and-conformity"].remedies}
    assert triggers["pay-tax-owed"].probability[4] >= 0.9


def test_a_missing_spare_tiller_is_no_overhaul_of_the_steering():
    run = CATALOGUE.checkpoints["steering-run"]
    assert "overhaul-steering" in {trigger.code for trigger in run.remedies}
    told = (*run.levels, *run.tags)
    assert not [words for words in told if "spare" in words or "emergency" in words]
    spare = CATALOGUE.checkpoints["emergency-tiller"]
    assert {trigger.code for trigger in spare.remedies} == {"make-emergency-tiller"}
    made, overhaul = (
        reference_price(CATALOGUE.remedies[code], CATALOGUE)
        for code in ("make-emergency-tiller", "overhaul-steering")
    )
    assert made < overhaul / 2


def test_the_yard_rate_spans_published_lists():
    # US yard lists: 90 to 140 an hour at a club's yard, 150 at a commercial one.
    assert MONEY.yard_rate.low <= 140 <= MONEY.yard_rate.high
    assert MONEY.yard_rate.high >= 150


# --- Consumer prices -----------------------------------------------------------------------------


def test_the_price_index_is_the_mean_of_the_published_months():
    # US Bureau of Labor Statistics, CPI-U, CUUR0000SA0. Annual averages were published to one
    # decimal for years before 2007, and from months of one decimal.
    published = json.loads(
        (Path(__file__).parent / "data" / "cpi_u_monthly.json").read_text(encoding="utf-8")
    )["monthly"]
    assert [str(year) for year in MONEY.price_index] == list(published)
    for year, index in MONEY.price_index.items():
        months = published[str(year)]
        assert len(months) == 12
        tolerance = 0.05 if year < 2007 else 0.001
        assert index == pytest.approx(sum(months) / 12, abs=tolerance), year


def test_prices_moved_between_years():
    # Worked with the same series: 313.689 / 218.056 and 313.689 / 201.6.
    assert in_base_year(9_500, 2010) == pytest.approx(13_666, abs=1)
    assert in_base_year(250, 2006) == pytest.approx(389, abs=1)
    assert in_base_year(100, 2024) == 100


# --- Wind and sea --------------------------------------------------------------------------------

# World Meteorological Organization, code table 1100 (Beaufort scale): force, words, and the least
# and the most of its mean wind in knots. From memory.
BEAUFORT = [
    (0, "calm", 0, 1),
    (1, "light air", 1, 3),
    (2, "light breeze", 4, 6),
    (3, "gentle breeze", 7, 10),
    (4, "moderate breeze", 11, 16),
    (5, "fresh breeze", 17, 21),
    (6, "strong breeze", 22, 27),
    (7, "near gale", 28, 33),
    (8, "gale", 34, 40),
    (9, "strong gale", 41, 47),
    (10, "storm", 48, 55),
    (11, "violent storm", 56, 63),
    (12, "hurricane", 64, 71),
]
# Code table 3700 (state of the sea): code, words, and the most of the waves' height in metres; from
# memory.
SEA_STATES = [
    (0, "calm, glassy", 0),
    (1, "calm, rippled", 0.1),
    (2, "smooth", 0.5),
    (3, "slight", 1.25),
    (4, "moderate", 2.5),
    (5, "rough", 4),
    (6, "very rough", 6),
    (7, "high", 9),
    (8, "very high", 14),
]
KNOT = 1852 / 3600  # m/s


def test_wind_and_sea_are_in_the_words_of_the_published_scales():
    assert {force: words for force, words, _, _ in BEAUFORT} == vocabulary.BEAUFORT
    below = {code: words for code, words, _ in SEA_STATES}
    assert {**below, 9: "phenomenal"} == vocabulary.SEA_STATES


def test_the_words_belong_to_these_winds():
    """The scale's formula of 1946, v = 0.836 B^1.5 m/s, falls within each force's knots."""
    for force, _, least, most in BEAUFORT:
        assert least - 0.5 <= 0.836 * force**1.5 / KNOT <= most + 0.5


def test_rig_and_sails_carry_load_from_about_seven_knots():
    # Common practice, no source: below a gentle breeze she ghosts, and nothing is under load.
    assert {force: least for force, _, least, _ in BEAUFORT}[vocabulary.LEAST_WIND] == 7
    # Common practice, no source: waves above 2.5 m throw a boat of ten metres about.
    assert {code: most for code, _, most in SEA_STATES}[vocabulary.ROUGH - 1] == 2.5
