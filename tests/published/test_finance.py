"""Discounting against the doc strings of numpy-financial 1.0.0 (read there, and recomputed).

The growing annuity is a textbook formula, from memory.
"""

import pytest

from apps.reckoning.ownership import cost_of_ownership, level_payment, net_present_value


def test_net_present_value():
    flows = [-40_000, 5_000, 8_000, 12_000, 30_000]
    assert net_present_value(0.08, flows) == pytest.approx(3065.22267, abs=5e-6)


@pytest.mark.parametrize(
    ("rate", "flows"),
    [
        (0.28095, [-100, 39, 59, 55, 20]),
        (-0.0955, [-100, 0, 0, 74]),
        (0.0886, [-5, 10.5, 1, -8, 1]),
    ],
)
def test_nothing_is_left_at_the_published_internal_rate_of_return(rate, flows):
    step = 1e-4  # the rates are printed to four or five digits
    below, above = (net_present_value(rate + off, flows) for off in (-step, step))
    assert below * above < 0


def test_present_value_of_equal_sums():
    """pv(0.07, 20, 12000, 0) = -127128.17094619398; money paid out is negative there."""
    assert net_present_value(0.07, [0, *[12_000] * 20]) == pytest.approx(127128.17094619398)
    whole = cost_of_ownership(0, 12_000, years=20, discount_rate=0.07)
    assert whole.total == pytest.approx(127128.17094619398)
    assert whole.yearly == pytest.approx(12_000)


def test_present_value_with_a_sum_at_the_end():
    """pv(0.05/12, 120, -100, 15692.93) = -100.00067131625819."""
    months = cost_of_ownership(0, -100, years=120, discount_rate=0.05 / 12, resale=-15692.93)
    assert months.total == pytest.approx(100.00067131625819)


@pytest.mark.parametrize(
    ("rate", "periods", "present", "payment"),
    [
        (0.075 / 12, 180, 200_000, 1854.0247200054619),
        (0.08 / 12, 60, 15_000, 304.14591432620773),
        (0.06 / 12, 360, 200_000, 1199.1010503055138),  # computed with the library, not printed
        (0.0824 / 12, 12, 2_500, 217.74859035344943),
    ],
)
def test_level_payment(rate, periods, present, payment):
    assert level_payment(rate, periods, present) == pytest.approx(payment)


def test_level_payments_pay_off_a_loan_as_printed():
    """Balance by month of 2,500 at 8.24%/12 over 12 months, rows of the ppmt/ipmt doc string."""
    payment, balance, left = level_payment(0.0824 / 12, 12, 2_500), 2_500.0, []
    for _ in range(12):
        balance += balance * 0.0824 / 12 - payment
        left.append(balance)
    printed = [2299.42, 2097.46, 1894.11, 1689.37, 1483.22, 1275.66]
    printed += [1066.67, 856.25, 644.38, 431.05, 216.26, 0.0]
    assert left == pytest.approx(printed, abs=0.0051)


def test_future_value():
    """fv(0.05/12, 120, -100, -100) = 15692.92889433575: 100 now and 100 a month, after 120."""
    rate, months = 0.05 / 12, 120
    paid = cost_of_ownership(100, 100, years=months, discount_rate=rate)
    assert paid.total * (1 + rate) ** months == pytest.approx(15692.92889433575, rel=1e-12)


def test_rate():
    """rate(10, 0, -3500, 10000) = 0.1106908537142689: 3,500 now is 10,000 after ten years."""
    whole = cost_of_ownership(3_500, 0, years=10, discount_rate=0.1106908537142689, resale=10_000)
    assert whole.total == pytest.approx(0, abs=1e-6)


def test_growing_annuity():
    """100 at the end of the first year, 5% more each year, discounted at 10%, ten years: 744.

    PV = 100 / (r - g) (1 - ((1 + g) / (1 + r))^10), from memory.
    """
    whole = cost_of_ownership(0, 100, years=10, discount_rate=0.10, growth_rate=0.05)
    assert whole.running == pytest.approx(744, abs=0.5)
    by_formula = 100 / 0.05 * (1 - (1.05 / 1.10) ** 10)
    assert whole.running == pytest.approx(by_formula, rel=1e-12)
