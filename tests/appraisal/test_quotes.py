"""How far a bill may stray from a quote."""

import math
from dataclasses import replace
from datetime import date
from uuid import UUID

import pytest
from scipy.stats import norm

from apps.appraisal.compute.costing import ESTIMATE_LOG_SD, quote_log_sd
from apps.purchase.facts import LiveQuote

YARDS = LiveQuote(
    id=UUID(int=1),
    candidate_id=UUID(int=2),
    remedy="reseal",
    amount=2400,
    currency="EUR",
    firmness="estimate",
    includes_enabling=False,
    from_whom="A yard",
    dated_on=date(2025, 4, 12),
    valid_until=None,
    expired=False,
)


def test_a_surveyors_range_holds_four_bills_in_five():
    spread = quote_log_sd(replace(YARDS, low=1600, high=3600))
    bills = norm(math.log(2400), spread)
    assert bills.cdf(math.log(3600)) - bills.cdf(math.log(1600)) == pytest.approx(0.8)
    assert bills.median() == pytest.approx(math.log(2400))


def test_it_is_never_surer_than_a_yards_estimate():
    assert quote_log_sd(replace(YARDS, low=2390, high=2410)) == ESTIMATE_LOG_SD
    assert quote_log_sd(YARDS) == ESTIMATE_LOG_SD


def test_a_fixed_price_does_not_stray_while_it_is_valid():
    fixed = replace(YARDS, firmness="fixed")
    assert quote_log_sd(fixed) == 0
    assert quote_log_sd(replace(fixed, expired=True)) == ESTIMATE_LOG_SD
