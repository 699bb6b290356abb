"""Prices to offer, against the same cost computed again at that price."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning import simulation
from apps.reckoning.costs import Purchase, expected_costs, simulate
from apps.reckoning.offering import AtPrice, Limits, plan_of, sensitivity
from apps.reckoning.utility import overrun_penalty
from tests.reckoning.cost_cases import (
    CARE,
    NO_ENABLING,
    certain,
    prices,
    random_belief,
    random_purchase,
    random_work,
    work,
)

seeds = st.integers(0, 2**32 - 1)
BUDGET = 30_000.0


class Boat:
    def __init__(self, seed):
        generator = np.random.default_rng(seed)
        self.seed = seed
        self.belief = random_belief(generator, 6)
        self.work = random_work(generator, 6)
        self.purchase = random_purchase(generator)
        self.draws, self.expected = self.bought(self.purchase)
        self.at_price = AtPrice.of(self.draws, self.purchase, self.expected)

    def bought(self, purchase):
        draws = simulate(*self.belief, self.work, purchase, seed=self.seed, draws=2048)
        return draws, expected_costs(*self.belief, self.work, purchase)

    def at(self, price):
        """The same boat, drawn again with this price as a live offer."""
        offer = replace(self.purchase, asking=price, expected_share=1.0, share_sd=0.0)
        return self.bought(offer)


@settings(max_examples=25, deadline=None)
@given(seeds, st.floats(1_000, 40_000))
def test_the_cost_at_a_price_is_the_cost_with_that_offer(seed, price):
    boat = Boat(seed)
    draws, expected = boat.at(price)
    cost = boat.at_price.cost(price)
    assert cost.upfront == pytest.approx(draws.upfront)
    assert cost.all_in == pytest.approx(draws.all_in)
    assert cost.mean_upfront == pytest.approx(expected.upfront)
    assert cost.mean_all_in == pytest.approx(expected.all_in)


@settings(max_examples=25, deadline=None)
@given(seeds, st.floats(0.05, 0.99))
def test_a_unit_more_than_the_price_within_the_budget_is_too_much(seed, confidence):
    boat = Boat(seed)
    price = boat.at_price.within(BUDGET, confidence)
    if price is None:
        assert boat.at_price.chance_within(0.0, BUDGET) < confidence
        return
    assert boat.at_price.chance_within(price - 0.01, BUDGET) >= confidence - 1e-9
    assert boat.at_price.chance_within(price + 0.01, BUDGET) < confidence
    draws, _ = boat.at(price - 0.01)
    assert (draws.upfront <= BUDGET).mean() >= confidence - 1e-9


@settings(max_examples=25, deadline=None)
@given(seeds)
def test_the_surplus_is_nought_at_par(seed):
    boat = Boat(seed)
    valuation = boat.expected.all_in + 500
    price = boat.at_price.at_par(valuation)
    assert boat.at(price)[1].all_in == pytest.approx(valuation)
    assert boat.at_price.at_par(boat.at_price.rest.mean_all_in - 1) is None


@settings(max_examples=25, deadline=None)
@given(seeds, st.floats(0, 2_000))
def test_she_is_worth_the_next_best_at_its_price(seed, other):
    boat, penalty = Boat(seed), overrun_penalty(0.8)
    valuation = boat.expected.all_in + 4_000
    price = boat.at_price.worth_as_much_as(other, valuation, BUDGET, penalty)
    if price is None:
        at_nothing = boat.at_price.cost(0.0).regretted(BUDGET, penalty).mean
        assert valuation - at_nothing < other
        return
    regretted = boat.at_price.cost(price).regretted(BUDGET, penalty).mean
    assert valuation - regretted == pytest.approx(other, abs=0.1)
    # The risk to the budget can only lower it.
    par = boat.at_price.at_par(valuation - other)
    assert price <= par + 0.01


def test_a_confidence_of_nought_is_refused():
    with pytest.raises(ValueError, match="confidence"):
        Boat(1).at_price.within(BUDGET, 0.0)


class TestLimits:
    def test_the_lowest_holds(self):
        assert Limits(20_000, 18_000, 17_000, valued=True).walk_away == 17_000
        assert Limits(16_000, 18_000, 17_000, valued=True).walk_away == 16_000

    def test_without_a_valuation_only_the_budget_limits(self):
        assert Limits(20_000, None, None, valued=False).walk_away == 20_000

    def test_a_limit_that_leaves_no_price_leaves_none(self):
        assert Limits(20_000, None, None, valued=True).walk_away is None
        assert Limits(None, 18_000, 17_000, valued=True).walk_away is None


class TestPlan:
    asked = Purchase(asking=20_000, expected_share=0.95, share_sd=0.05)

    def test_meeting_halfway_ends_at_the_target(self):
        plan = plan_of(25_000, self.asked)
        assert (plan.opening, plan.target, plan.walk_away) == (18_000, 19_000, 25_000)
        assert (plan.opening + self.asked.asking) / 2 == plan.target
        assert not plan.out_of_reach

    def test_the_target_is_never_above_the_walk_away_price(self):
        plan = plan_of(16_000, self.asked)
        assert (plan.opening, plan.target) == (14_000, 16_000)  # 12,000 would be a third less

    def test_nobody_asks_for_so_much_less(self):
        plan = plan_of(9_000, self.asked)
        assert plan.out_of_reach
        assert plan.opening == plan.target == plan.walk_away == 9_000

    @given(st.floats(0, 50_000), st.floats(0, 50_000), st.floats(0.5, 1.5))
    def test_opening_target_and_walk_away_are_in_order(self, walk_away, asking, share):
        plan = plan_of(walk_away, Purchase(asking=asking, expected_share=share))
        assert plan.opening <= plan.target <= plan.walk_away


class TestSensitivity:
    def test_by_hand(self):
        """Work of 3,000 for sure, half of it labour at the yard; tax 10%, no reserve."""
        job = work(
            prices(3_000, 3_000, 3_000, labour_share=0.5),
            NO_ENABLING,
            [(0, 0, [1, 1, 1, 1, 1], 1)],
            now=[0],
        )
        purchase = Purchase(asking=20_000, tax_rate=0.1)
        level = certain(2)
        draws = simulate(CARE, level, job, purchase, seed=1)
        expected = expected_costs(CARE, level, job, purchase)
        at_price = AtPrice.of(draws, purchase, expected)
        found = sensitivity(at_price, draws, job, 23_000, 0.8)
        within = at_price.within(23_000, 0.8)
        assert within - found.more_work == pytest.approx(1_000 / 1.1)
        # The yard's rate itself is uncertain: labour at its 80th percentile a tenth dearer.
        factor = np.sort(simulation.yard_factor(draws))[int(np.ceil(0.8 * len(draws))) - 1]
        assert within == pytest.approx((23_000 - 1_500 - 1_500 * factor) / 1.1, rel=1e-5)
        assert within - found.dearer_yard == pytest.approx(150 * factor / 1.1, rel=1e-3)
        assert found.cheaper_yard - within == pytest.approx(150 * factor / 1.1, rel=1e-3)
        assert found.by_confidence[0.8] == within

    @settings(max_examples=15, deadline=None)
    @given(seeds)
    def test_more_sure_is_never_dearer(self, seed):
        boat = Boat(seed)
        found = sensitivity(boat.at_price, boat.draws, boat.work, BUDGET, 0.85)
        by_chance = [-1.0 if price is None else price for price in found.by_confidence.values()]
        assert by_chance == sorted(by_chance, reverse=True)
        assert list(found.by_confidence) == sorted(found.by_confidence)
