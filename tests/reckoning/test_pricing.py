"""From the catalogue's hours and parts to a price for one boat; yearly cost; parts by share."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.reckoning.ownership import by_share, cost_of_ownership, running_cost
from apps.reckoning.pricing import (
    CatalogueFee,
    OwnHours,
    PricedJob,
    QuotedPrice,
    Rates,
    Size,
    expected_of,
    price_fees,
    price_jobs,
    with_quotes,
)

TEN_METRES = Size(loa_m=10.0)
RATES = Rates(yard_hour=100.0)
PAINT = PricedJob("paint", (10, 20, 40), (300, 400, 800), "loa", 1.0, True, 2.0)
KEEL = PricedJob("keel", (20, 30, 60), (0, 500, 900), "displacement", 1.0)
CRANE = PricedJob("crane", (0, 0, 0), (400, 500, 700))
JOBS = [PAINT, KEEL, CRANE]


def points(pricing, index):
    prices = pricing.prices
    return (prices.low[index], prices.likely[index], prices.high[index])


class TestYardWork:
    def test_labour_at_the_yards_rate_and_parts_on_top(self):
        pricing = price_jobs(JOBS, TEN_METRES, RATES)
        assert points(pricing, 0) == (1300, 2400, 4800)
        assert pricing.prices.labour_share == pytest.approx([2000 / 2400, 3000 / 3500, 0])

    def test_parts_move_with_index_and_currency_and_labour_does_not(self):
        pricing = price_jobs([PAINT], TEN_METRES, replace(RATES, price_index=1.1, currency=0.9))
        assert points(pricing, 0) == pytest.approx((1297, 2396, 4792))

    def test_both_grow_with_length(self):
        assert points(price_jobs([PAINT], Size(12.0), RATES), 0) == pytest.approx(
            (1560, 2880, 5760)
        )
        area = replace(PAINT, scale_exponent=2.0)
        assert points(price_jobs([area], Size(12.0), RATES), 0)[1] == pytest.approx(2400 * 1.44)

    def test_displacement_counts_where_it_is_known_and_follows_length_where_not(self):
        heavy = price_jobs([KEEL], Size(10.0, displacement_kg=7500.0), RATES)
        assert points(heavy, 0)[1] == pytest.approx(3500 * 1.5)
        assert points(price_jobs([KEEL], Size(12.0), RATES), 0)[1] == pytest.approx(3500 * 1.728)

    def test_a_share_of_the_price_follows_it(self):
        tax = PricedJob("tax", (0, 0, 0), (500, 2000, 2500), "price")
        abroad = replace(RATES, price_index=1.1, currency=0.9)
        sold_for = 36_000.0  # in the list's currency now
        size = Size(12.0, price=sold_for / abroad.money)
        assert points(price_jobs([tax], size, abroad), 0) == pytest.approx((1_800, 7_200, 9_000))
        assert points(price_jobs([tax], TEN_METRES, RATES), 0) == (500, 2000, 2500)
        assert points(price_jobs([tax], Size(10.0, price=0.0), RATES), 0) == (0, 0, 0)

    def test_what_is_counted_does_not_grow(self):
        assert points(price_jobs([CRANE], Size(15.0), RATES), 0) == (400, 500, 700)

    def test_the_shape_of_a_price_does_not_depend_on_the_boat(self):
        small = price_jobs(JOBS, Size(8.0), RATES).prices.shapes
        large = price_jobs(JOBS, Size(14.0), RATES).prices.shapes
        assert np.allclose(small, large)  # so that all boats share the draws of a job's price


class TestOwnWork:
    def test_own_hours_at_what_they_are_worth_and_no_yard_rate(self):
        pricing = price_jobs(JOBS, TEN_METRES, RATES, OwnHours(("paint",), 100, 10))
        assert points(pricing, 0) == (300 + 200, 400 + 400, 800 + 800)
        assert pricing.prices.labour_share[0] == 0
        assert pricing.own.tolist() == [True, False, False]
        assert pricing.own_hours_left == 60

    def test_what_a_professional_must_do_stays_with_the_yard(self):
        pricing = price_jobs(JOBS, TEN_METRES, RATES, OwnHours(("keel",), 1000, 10))
        assert pricing.refused == ("keel",)
        assert points(pricing, 1) == points(price_jobs(JOBS, TEN_METRES, RATES), 1)

    def test_hours_run_out_in_the_order_named_and_the_yard_does_the_rest(self):
        jobs = [replace(PAINT, code=code) for code in ("first", "second", "third")]
        jobs[1] = replace(jobs[1], hours=(40, 50, 60))
        own = OwnHours(("second", "first", "third"), hours=60, hour_value=0)
        pricing = price_jobs(jobs, TEN_METRES, RATES, own)
        assert pricing.own.tolist() == [True, False, False]
        assert pricing.beyond_hours == ("second", "third")
        assert pricing.own_hours_left == 20

    def test_a_job_draws_on_the_hours_by_how_much_of_it_is_expected(self):
        own = OwnHours(("paint",), hours=10, hour_value=0)
        unlikely = price_jobs(JOBS, TEN_METRES, RATES, own, expected_extent=np.array([0.2, 1, 1]))
        assert unlikely.own_hours_left == pytest.approx(2)

    def test_a_code_that_is_not_among_the_jobs_is_passed_over(self):
        assert not price_jobs(JOBS, TEN_METRES, RATES, OwnHours(("sails",), 9, 1)).own.any()

    @given(st.floats(0, 500), st.permutations(["a", "b", "c"]))
    def test_the_hours_spent_never_exceed_those_there_are(self, hours, order):
        jobs = [replace(PAINT, code=code, hours=(1, 17, 90)) for code in "abc"]
        pricing = price_jobs(jobs, TEN_METRES, RATES, OwnHours(tuple(order), hours, 5))
        assert pricing.own_hours_left >= 0
        assert pricing.own.sum() * 34 + pricing.own_hours_left == pytest.approx(hours)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: PricedJob("x", (0, 0, 0), (0, 0, 0)), "x: has neither hours nor parts"),
        (lambda: PricedJob("x", (3, 2, 4), (0, 0, 0)), "x: hours: low is above likely"),
        (lambda: PricedJob("x", (1, 2, 4), (-1, 0, 0)), "x: parts: low is negative"),
        (lambda: PricedJob("x", (1, float("nan"), 4), (0, 0, 0)), "x: hours: is not a number"),
        (
            lambda: PricedJob("x", (1, 2, 4), (0, 0, 0), "girth"),
            "x: scale_by: 'girth' is not known",
        ),
        (lambda: PricedJob("x", (1, 2, 4), (0, 0, 0), own_hours_factor=0), "x: own_hours_factor"),
        (lambda: Size(0), "loa_m: is not above 0"),
        (lambda: Size(10, 0), "displacement_kg: is not above 0"),
        (lambda: Size(10, price=-1), "price: is negative or not a number"),
        (lambda: Rates(-1), "yard_hour: is not above 0"),
        (lambda: Rates(90, currency=float("nan")), "currency: is not above 0"),
        (lambda: OwnHours(hours=-1), "hours: is negative"),
        (lambda: CatalogueFee("x", (3, 2, 1)), "x: low is above likely"),
        (lambda: CatalogueFee("x", (1, 2, 3), "mast"), "x: per: 'mast' is not known"),
    ],
)
def test_bad_input_is_named(make, message):
    with pytest.raises(ValueError, match=message):
        make()


class TestQuotes:
    prices = price_jobs(JOBS, TEN_METRES, RATES).prices

    def test_a_quote_takes_the_place_of_the_estimate(self):
        quoted = with_quotes(self.prices, {1: QuotedPrice(4_200, log_sd=0.05)})
        assert quoted.mean == pytest.approx([self.prices.mean[0], 4_200, self.prices.mean[2]])
        assert quoted.yard_share.tolist() == [self.prices.labour_share[0], 0, 0]

    def test_a_quote_may_be_beyond_the_estimate_and_nothing(self):
        assert with_quotes(self.prices, {0: QuotedPrice(99_000)}).mean[0] == 99_000
        assert with_quotes(self.prices, {0: QuotedPrice(0)}).mean[0] == 0

    @pytest.mark.parametrize(
        "quotes", [{3: QuotedPrice(1)}, {0: QuotedPrice(-1)}, {0: QuotedPrice(float("nan"))}]
    )
    def test_a_quote_that_is_none_is_refused(self, quotes):
        with pytest.raises(ValueError, match=r"quotes\[\d\]"):
            with_quotes(self.prices, quotes)


class TestFeesAndYears:
    lines = [
        CatalogueFee("berth", (200, 300, 500), "m"),
        CatalogueFee("insurance", (0.01, 0.02, 0.03), "value"),
        CatalogueFee("service", (300, 500, 900)),
    ]

    def test_fees_by_the_metre_by_value_and_by_the_boat(self):
        rates = replace(RATES, price_index=1.2)
        points = price_fees(self.lines, Size(11.0), rates, value=40_000)
        assert points == pytest.approx(
            np.array([[2640, 3960, 6600], [400, 800, 1200], [360, 600, 1080]])
        )

    def test_no_fees_cost_nothing(self):
        assert price_fees([], TEN_METRES, RATES).shape == (0, 3)

    def test_a_year_is_the_sum_of_its_lines(self):
        year = running_cost(self.lines, TEN_METRES, RATES, value=40_000)
        assert (year.low, year.likely, year.high) == pytest.approx((2700, 4300, 7100))
        assert year.mean == pytest.approx(expected_of(year.by_line).sum())

    def test_ownership_without_interest_is_plain_addition(self):
        years = cost_of_ownership(30_000, 4_000, years=5, discount_rate=0, resale=10_000)
        assert years.total == pytest.approx(30_000 + 20_000 - 10_000)
        assert years.yearly == pytest.approx(8_000)

    def test_later_money_counts_less_and_growing_costs_count_more(self):
        now = cost_of_ownership(0, 1_000, years=10, discount_rate=0.0).total
        later = cost_of_ownership(0, 1_000, years=10, discount_rate=0.05).total
        growing = cost_of_ownership(0, 1_000, years=10, discount_rate=0.05, growth_rate=0.03).total
        assert later < growing < now

    @pytest.mark.parametrize(
        ("change", "message"),
        [({"years": 0}, "years"), ({"discount_rate": -1.0}, "discount_rate")],
    )
    def test_impossible_terms_are_refused(self, change, message):
        with pytest.raises(ValueError, match=message):
            cost_of_ownership(1, 1, **{"years": 1, "discount_rate": 0.0} | change)

    def test_by_share(self):
        assert by_share(1_000, [0.5, 0.3, 0.2]) == pytest.approx([500, 300, 200])
        with pytest.raises(ValueError, match="shares: sum to"):
            by_share(1_000, [0.5, 0.3])
        with pytest.raises(ValueError, match="shares: one is negative"):
            by_share(1_000, [1.5, -0.5])
