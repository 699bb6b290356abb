"""The penalty for overrunning the budget against the newsvendor's textbook answers.

Source: Wikipedia, "Newsvendor model", numerical examples (price 7, cost 5; demand uniform on
50..80, or normal with mean 50 and sd 20), the normal one as solved in the public documentation of
NewsvendorModel.jl: order 39, expected sales 35.38, leftover 3.62, profit 52.687735385066865 (read
there; it counts a negative demand as none). The uniform case's 59 is from memory.
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import norm, uniform

from apps.reckoning.utility import overrun, overrun_penalty

PRICE, COST = 7.0, 5.0
UNDER, OVER = PRICE - COST, COST  # cost of a unit too few, of a unit too many
CRITICAL_RATIO = UNDER / (UNDER + OVER)
# A million slices of equal probability stand for a distribution.
SLICES = (np.arange(1_000_000) + 0.5) / 1_000_000


@pytest.mark.parametrize(
    ("demand", "exact", "printed"),
    [(norm(50, 20), 38.68, 39), (uniform(50, 30), 58.571, 59)],
)
def test_the_budget_that_costs_least_is_the_textbook_order(demand, exact, printed):
    """Money left over costs 1, money short costs lambda: the best budget is the order quantity."""
    amounts = demand.ppf(SLICES)

    def cost(budget: float) -> float:
        left_over = overrun(budget, 0.0) - amounts + overrun(amounts, budget)
        return float(
            (left_over + overrun_penalty(CRITICAL_RATIO) * overrun(amounts, budget)).mean()
        )

    best = minimize_scalar(cost, bounds=(10, 90), method="bounded").x
    assert best == pytest.approx(exact, abs=0.01)
    assert round(best) == printed


def test_lambda_is_underage_over_overage():
    assert overrun_penalty(CRITICAL_RATIO) == pytest.approx(UNDER / OVER)
    assert overrun_penalty(0.80) == pytest.approx(4)  # model.md section 4


def test_expected_overrun_gives_the_published_sales_leftover_and_profit():
    demand = np.maximum(norm(50, 20).ppf(SLICES), 0)
    sales = demand.mean() - overrun(demand, 39.0).mean()
    assert sales == pytest.approx(35.38, abs=0.005)
    assert 39 - sales == pytest.approx(3.62, abs=0.005)
    assert PRICE * sales - COST * 39 == pytest.approx(52.687735385066865, abs=0.001)
