"""What changes a candidate's place, on cases calculated by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from apps.reckoning.costs import Purchase, expected_costs, simulate
from apps.reckoning.explaining import NONE, WhatWouldChange, what_would_change
from apps.reckoning.looking import Decision, prospect
from apps.reckoning.repricing import Moved, Moving, last_within
from apps.reckoning.utility import Cost
from apps.reckoning.waterfall import WaterfallStep, waterfall
from tests.reckoning.cost_cases import CARE, NO_ENABLING, certain, fixed, work

# Of an asking price of 20,000: price 18,000, tax 1,800, reserve 900, fees 500. So she costs 1.035
# for each unit of the asking price, and 21,200 to buy.
PURCHASE = Purchase(20_000, expected_share=0.9, fixed=500, tax_rate=0.1, reserve_rate=0.05)
RATE = 1.035
# 3,000 that cannot wait and 1,000 that can, both sure: 24,200 up front, 25,200 all in.
FAILED = [0, 1, 1, 1, 1]
JOBS = work(fixed(3_000, 1_000), NO_ENABLING, [(0, 0, FAILED, 1), (1, 1, FAILED, 1)], now=[0])
BUDGET = 30_000.0


def of(*surplus, level=None, jobs=JOBS, budget=BUDGET, purchase=PURCHASE):
    """Changes of each of some boats, alike but for what they are worth over what they cost."""
    belief = CARE, certain(2, 2) if level is None else level
    draws = simulate(*belief, jobs, purchase, seed=1)
    expected = expected_costs(*belief, jobs, purchase)
    choice = Decision(
        [
            prospect(
                *belief,
                draws,
                jobs,
                expected,
                valuation=float(expected.all_in + over),
                budget=budget,
            )
            for over in surplus
        ],
        budget=budget,
        penalty=4.0,
    )
    return [
        what_would_change(choice, i, draws, jobs, purchase, expected, least_chance=0.2)
        for i in range(len(surplus))
    ]


def told(changes, *effects):
    return [
        (one.fact, one.subject, one.other, round(one.then, 1))
        for one in changes
        if one.effect in effects
    ]


def asking(more):
    return round(20_000 + more / RATE, 1)


class TestPlaces:
    """Surpluses of 1,000, 400 and 5,000. Prices are sure, so a lead counts from 1 on."""

    def test_the_next_better_one_is_passed_and_the_next_worse_one_is_fallen_behind(self):
        first, second, best = of(1_000, 400, 5_000)
        assert told(first, "passes")[0] == ("asking", 0, 2, asking(-4_001))
        assert told(second, "passes")[0] == ("asking", 0, 0, asking(-601))
        assert told(best, "falls_behind")[0] == ("asking", 0, 0, asking(4_001))
        assert told(first, "falls_behind")[0] == ("asking", 0, 1, asking(601))

    def test_buying_none_stands_in_the_order_too(self):
        _, second, best = of(1_000, 400, 5_000)
        assert told(second, "falls_behind")[0] == ("asking", 0, NONE, asking(401))
        assert told(best, "passes") == []
        (worthless,) = of(-3_000)
        assert told(worthless, "passes")[0] == ("asking", 0, NONE, asking(-3_001))
        assert told(worthless, "falls_behind") == []

    def test_the_nearer_of_a_rival_and_none_counts(self):
        """Below both: buying none is 7,201 away, the other 8,201; no seller takes off so much."""
        _, behind = of(1_000, -7_200)
        assert told(behind, "passes") == []
        _, behind = of(1_000, -4_000)
        assert told(behind, "passes")[0] == ("asking", 0, NONE, asking(-4_001))

    def test_one_of_those_level_is_passed_before_any_other(self):
        """A lead below 1 does not count; the best of the level boats is the one to pass."""
        changes = of(1_000.5, 1_000, 999.6, 3_000)
        assert told(changes[1], "passes")[0] == ("asking", 0, 0, asking(-1.5))
        assert told(changes[2], "passes")[0] == ("asking", 0, 0, asking(-1.9))

    def test_quotes_nearest_to_the_estimate_come_first_and_far_ones_not_at_all(self):
        _, second = of(1_000, 400)
        assert told(second, "passes")[1:] == [("quote", 0, 0, 2_399.0), ("quote", 1, 0, 399.0)]
        _, second = of(1_070, 400)  # 671 off 1,000 is less than a third of it
        assert told(second, "passes")[1:] == [("quote", 0, 0, 2_329.0)]
        first, _ = of(2_500, 400)  # 2,101 more on 1,000 is more than three times as much
        assert told(first, "falls_behind")[1:] == [("quote", 0, 1, 5_101.0)]

    def test_a_quote_is_held_against_what_the_job_comes_to_where_it_is_needed(self):
        """Needed in half of the cases: a unit of the quote moves half a unit of the cost."""
        half = work(fixed(3_000), NO_ENABLING, [(0, 0, [0, 0, 0.5, 1, 1], 1)])
        _, second = of(1_000, 400, level=certain(2), jobs=half)
        (quote,) = [one for one in second if one.fact == "quote" and one.effect == "passes"]
        assert (quote.now, quote.then) == (pytest.approx(3_000), pytest.approx(1_798, abs=15))


class TestBudget:
    def test_what_is_paid_up_front_counts_and_work_for_later_does_not(self):
        """30,000 less fees and work of 3,500 for the asking price, less 21,200 for the quote."""
        (boat,) = of(1_000)
        assert told(boat, "over_budget") == [
            ("asking", 0, None, round(26_500 / RATE, 1)),
            ("quote", 0, None, 8_800.0),
        ]

    def test_over_it_the_way_back_is_told(self):
        (boat,) = of(1_000, budget=23_000.0)
        assert told(boat, "within_budget") == [
            ("asking", 0, None, round(19_500 / RATE, 1)),
            ("quote", 0, None, 1_800.0),
        ]
        assert told(boat, "over_budget") == []


class TestLevels:
    """2 is likeliest, with 3,000; at 0 it costs nothing, from 3 on 5,000."""

    jobs = work(fixed(1_000), NO_ENABLING, [(0, 0, [0, 1, 1, 1, 1], [1, 3, 3, 5, 5])], now=[0])
    level = np.tile([0.1, 0.04, 0.6, 0.16, 0.1], (3, 1, 1))

    def changes(self, *surplus, level=None):
        return of(*surplus, level=self.level if level is None else level, jobs=self.jobs)

    def test_the_nearest_level_and_the_chance_of_all_that_reach_it(self):
        """A surplus of 500 on average is 320 - 1,500 at 3 or worse: none is better then."""
        (boat,) = self.changes(500)
        assert [one for one in boat if one.fact == "level"] == [
            WhatWouldChange("level", 0, 2, 3, "falls_behind", NONE, pytest.approx(0.26))
        ]

    def test_it_goes_up_the_same_way(self):
        """Her mean cost is 3,220: at 0 she leaves 3,220 more, and passes one 2,000 ahead."""
        _, behind = self.changes(2_500, 500)
        found = [one for one in behind if one.fact == "level" and one.effect == "passes"]
        assert found == [WhatWouldChange("level", 0, 2, 0, "passes", 0, pytest.approx(0.1))]

    def test_what_is_under_one_in_twenty_is_not_told(self):
        unlikely = np.tile([0.04, 0.04, 0.66, 0.16, 0.1], (3, 1, 1))
        _, behind = self.changes(2_500, 500, level=unlikely)
        assert [one for one in behind if one.fact == "level" and one.effect == "passes"] == []


class TestLastWithin:
    room, rate = np.array([40.0, 10.0, 30.0, 20.0]), np.ones(4)

    @pytest.mark.parametrize(
        ("chance", "last"), [(0.25, 40.0), (0.5, 30.0), (0.51, 20.0), (0.75, 20.0), (1.0, 10.0)]
    )
    def test_it_holds_with_at_least_the_chance(self, chance, last):
        assert last_within(self.room, self.rate, chance, None) == last

    def test_a_chance_of_none_is_kept_by_any_price(self):
        assert last_within(self.room, self.rate, 0.0, None) is None

    def test_a_share_of_the_draws_is_not_lost_to_rounding(self):
        room = np.arange(20.0, 0.0, -1.0)  # 0.55 * 20 is a last bit above 11
        assert last_within(room, np.ones(20), 0.55, None) == 10.0

    def test_the_rate_divides(self):
        assert last_within(self.room, np.full(4, 2.0), 1.0, None) == 5.0

    def test_draws_in_which_nothing_moves_hold_always_or_never(self):
        rate = np.array([0.0, 1.0, 1.0, 1.0])
        assert last_within(self.room, rate, 0.5, None) == 30.0
        assert last_within(np.array([0.0, 10.0, 30.0, 20.0]), rate, 0.25, None) is None
        assert last_within(np.array([-1.0, 10.0, 30.0, 20.0]), rate, 0.25, None) == 30.0
        assert last_within(np.array([-1.0, 10.0, 30.0, 20.0]), rate, 1.0, None) is None

    @pytest.mark.parametrize(
        ("reach", "last"),
        [((20.0, 20.0), 20.0), ((5.0, 19.9), None), ((20.1, 50.0), None), ((10.0, 30.0), 20.0)],
    )
    def test_only_within_reach(self, reach, last):
        assert last_within(self.room, self.rate, 0.75, reach) == last

    def test_no_price_is_below_nought(self):
        assert last_within(np.array([-5.0]), np.ones(1), 1.0, None) is None
        assert last_within(np.array([0.0]), np.ones(1), 1.0, None) == 0.0


class TestMoving:
    upfront = Moving(np.array([100.0, 200.0]), 150.0, np.array([2.0, 4.0]), 3.0)
    later = Moving(np.array([10.0, 0.0]), 5.0, np.array([1.0, 0.0]), 0.5)
    cost = Cost(np.array([1_000.0, 2_000.0]), np.array([1_500.0, 2_500.0]), 1_500.0, 2_000.0)

    def test_a_price_moves_what_hangs_on_it_and_nothing_else(self):
        moved = Moved(self.cost, self.upfront, self.later)
        assert moved.upfront_at(60.0).tolist() == [1_020.0, 2_040.0]
        # Every draw is over a budget of 1,000: the overrun is the upfront cost beyond it.
        at = moved.regretted_at(60.0, budget=1_000.0, penalty=2.0)
        assert at.mean == pytest.approx(2_055.0 + 2.0 * 530.0)
        assert at.error == pytest.approx(0.0, abs=1e-3)
        assert moved.mean_rate == 3.5

    def test_two_together_move_as_their_sum(self):
        both = self.upfront.with_(self.later)
        assert both.now.tolist() == [110.0, 200.0]
        assert both.rate.tolist() == [3.0, 4.0]
        assert (both.mean_now, both.mean_rate) == (155.0, 3.5)

    def test_what_is_in_proportion_to_the_asking_price(self):
        part = Moving.in_proportion(np.array([5_000.0, 10_000.0]), 8_000.0, PURCHASE)
        assert part.rate.tolist() == [0.25, 0.5]
        assert (part.mean_now, part.mean_rate) == (8_000.0, 0.4)
        assert part.mean_more(20_000.0) == 0.0

    def test_where_nothing_hangs_on_it_nothing_moves(self):
        nothing = Moving.nothing(2)
        moved = Moved(self.cost, nothing, nothing)
        assert moved.upfront_at(70.0).tolist() == self.cost.upfront.tolist()
        assert nothing.mean_more(70.0) == 0.0


def test_the_way_from_the_asking_price_step_by_step():
    """Work without cost is no step; seen work comes before disputed and unseen work."""
    rolled_up = SimpleNamespace(
        parts=SimpleNamespace(price=18_000.0, tax=1_800.0, purchase_costs=0.0, reserve=900.0),
        now_by_area_and_cause=np.array([[0.0, 0.0, 0.0], [200.0, 0.0, 30.0]]),
        later_by_area_and_cause=np.array([[0.0, 7.0, 0.0], [0.0, 0.0, 0.0]]),
    )
    assert waterfall(rolled_up, PURCHASE) == (
        WaterfallStep("asking", 20_000.0, total=20_000.0),
        WaterfallStep("expected_price", -2_000.0, total=18_000.0),
        WaterfallStep("tax", 1_800.0, total=19_800.0),
        WaterfallStep("work", 200.0, area=1, cause="seen", total=20_000.0),
        WaterfallStep("work", 30.0, area=1, cause="not_seen", total=20_030.0),
        WaterfallStep("reserve", 900.0, total=20_930.0),
        WaterfallStep("later", 7.0, area=0, cause="disputed", total=20_937.0),
    )
