"""Prices moved between years, against published changes of the index and against work by hand.

The catalogue's index is CPI-U of the US Bureau of Labor Statistics, series CUUR0000SA0, annual
averages; `test_catalogue_facts` compares it with the published months.
"""

from dataclasses import replace

import pytest

from apps.reckoning.pricing import PricedJob, Rates, Size, price_jobs
from tests.catalogue.real import REAL

MONEY = REAL.money

# Change of the annual average from the year before, in percent, as the Bureau prints it in its
# releases of January; from memory.
PRINTED = {
    2001: 2.8, 2002: 1.6, 2003: 2.3, 2004: 2.7, 2005: 3.4, 2006: 3.2, 2007: 2.8, 2008: 3.8,
    2009: -0.4, 2010: 1.6, 2011: 3.2, 2012: 2.1, 2013: 1.5, 2014: 1.6, 2015: 0.1, 2016: 1.3,
    2017: 2.1, 2018: 2.4, 2019: 1.8, 2020: 1.2, 2021: 4.7, 2022: 8.0, 2023: 4.1, 2024: 2.9,
}  # fmt: skip


@pytest.mark.parametrize(("year", "percent"), PRINTED.items())
def test_the_change_from_year_to_year_is_the_printed_one(year, percent):
    ratio = MONEY.price_ratio(year) / MONEY.price_ratio(year - 1)
    assert round(100 * (ratio - 1), 1) == percent


def test_sums_of_money_moved_as_in_a_published_example():
    """100 of 1950 are 122.82 of 1960 and 1,017.10 of 2017, by indices of 24.1, 29.6 and 245.12.

    From the tests of an open library that moves dollars by CPI-U; seen there.
    """
    money = replace(MONEY, price_index={1950: 24.1, 1960: 29.6, 2017: 245.12, 2024: 313.689})
    from_1950 = 100 / money.price_ratio(1950)
    assert from_1950 * money.price_ratio(1960) == pytest.approx(122.82157676348547)
    assert from_1950 * money.price_ratio(2017) == pytest.approx(1017.0954356846472)


# 313.689 / 304.702 = 1.0294944 is the last yearly rate; 1.0294944^2 = 1.0598587.
@pytest.mark.parametrize(
    ("year", "band"),
    [
        (2024, (240.00, 300.00, 390.00)),
        (2022, (223.91, 279.88, 363.85)),  # 292.655 / 313.689 = 0.9329463
        (2010, (166.83, 208.54, 271.10)),  # 218.056 / 313.689 = 0.6951344
        (2026, (254.37, 317.96, 413.34)),
    ],
)
def test_a_cost_band_in_the_year_of_the_brief_by_hand(year, band):
    """Parts of 240, 300, 390 in 2024, and 2 hours at 100 of the brief's year: those stay."""
    assert MONEY.basis.base_year == 2024
    job = PricedJob("job", hours=(2.0, 2.0, 2.0), parts=(240.0, 300.0, 390.0))
    rates = Rates(yard_hour=100.0, price_index=MONEY.price_ratio(year))
    prices = price_jobs([job], Size(10.0), rates).prices
    found = [getattr(prices, end)[0] - 200 for end in ("low", "likely", "high")]
    assert found == pytest.approx(band, abs=0.005)
