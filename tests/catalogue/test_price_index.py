"""Converting prices between years, also beyond the ends of the index."""

from dataclasses import replace

import pytest

from tests.catalogue.real import REAL

MONEY = replace(
    REAL.money,
    price_index={2021: 90.0, 2022: 100.0, 2023: 120.0, 2024: 126.0},
)
ONE_YEAR = replace(MONEY, price_index={2024: 126.0})


@pytest.mark.parametrize(
    ("year", "ratio"),
    [
        (2024, 1.0),
        (2022, 100 / 126),
        (2025, 1.05),  # by the last rate, 126 / 120
        (2027, 1.05**3),
        (2019, 90 / 126),  # the first year's
    ],
)
def test_a_year_beyond_the_index_is_carried_forward_by_the_last_rate(year, ratio):
    assert MONEY.basis.base_year == 2024
    assert MONEY.price_ratio(year) == pytest.approx(ratio)


@pytest.mark.parametrize(("year", "has"), [(2023, 2023), (2030, 2024), (2000, 2021)])
def test_the_year_that_prices_are_carried_from(year, has):
    assert MONEY.indexed(year) == has


def test_a_year_that_is_left_out_is_carried_from_the_one_before_it():
    gap = replace(MONEY, price_index={2022: 100.0, 2024: 121.0})
    assert gap.last_rate == pytest.approx(0.10)
    assert gap.price_ratio(2023) == pytest.approx(110 / 121)


def test_an_index_of_one_year_stays():
    assert ONE_YEAR.last_rate == 0
    assert ONE_YEAR.price_ratio(2030) == 1
