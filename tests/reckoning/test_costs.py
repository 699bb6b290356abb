"""Costs: the inputs' checks, exact moments against enumeration, draws against exact moments."""

import doctest
from dataclasses import fields, replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning import costs
from apps.reckoning.costs import (
    YARD_RATE_SD,
    Prices,
    Purchase,
    expected_costs,
    expected_extents,
    moments,
    rollup,
    simulate,
)
from tests.reckoning.cost_cases import (
    CARE,
    FREE_BOAT,
    NO_ENABLING,
    certain,
    fixed,
    levels,
    prices,
    random_belief,
    random_purchase,
    random_work,
    work,
)

seeds = st.integers(0, 2**32 - 1)
RISING = [0, 0.1, 0.5, 0.9, 1.0]


def only_now(case):
    """The same boat if nothing that can wait were ever done."""
    urgent = case.now[case.link_remedy]
    return replace(case, link_probability=case.link_probability * urgent[:, None])


class TestPrices:
    def test_mean_and_variance_are_those_of_the_pert_beta_or_of_the_quote(self):
        both = prices([10, 0], [12, 50], [20, 0], quoted=[False, True], quote_sd=[0, 0.1])
        assert both.mean == pytest.approx([13, 50])
        assert both.variance == pytest.approx([3, 2500 * np.expm1(0.01)])

    def test_a_price_with_no_span_is_certain(self):
        assert fixed(700).variance == pytest.approx([0])

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"low": np.array([2.0, 9.0])}, r"low\[1\]: is above likely"),
            ({"high": np.array([2.0, 7.0])}, r"likely\[1\]: is above high"),
            ({"low": np.array([-1.0, 1.0])}, r"low\[0\]: is negative"),
            ({"likely": np.array([np.nan, 8.0])}, r"likely\[0\]: is not a number"),
            ({"high": np.array([4.0])}, r"high: needs shape \(2,\), has \(1,\)"),
            ({"labour_share": np.array([0.1, 1.1])}, r"labour_share\[1\]: is not in 0..1"),
            ({"quote_sd": np.array([0.0, -0.1])}, r"quote_sd\[1\]: is negative"),
        ],
    )
    def test_a_price_that_is_none_is_refused_by_field_and_position(self, change, message):
        good = prices([1, 2], [2, 8], [4, 9])
        values = {field.name: getattr(good, field.name) for field in fields(Prices)} | change
        with pytest.raises(ValueError, match=message):
            Prices(**values)


class TestWork:
    good = work(fixed(100, 200), fixed(50), [(0, 0, RISING, 1), (1, 1, RISING, 1)], needs=[(0, 0)])

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"link_remedy": np.array([0, 2])}, r"link_remedy\[1\]: is not one of the 2 remedies"),
            ({"link_probability": np.full((2, 5), 1.5)}, r"link_probability\[0, 0\]: is not in"),
            ({"link_extent": np.full((2, 5), -1.0)}, r"link_extent\[0, 0\]: is not 0 or more"),
            ({"link_extent": np.full((2, 5), np.nan)}, r"link_extent\[0, 0\]"),
            ({"needs": np.zeros((1, 1), bool)}, r"needs: needs shape \(2, 1\)"),
            (
                {"link_checkpoint": np.array([1, 1]), "link_remedy": np.array([1, 1])},
                "link_remedy: a checkpoint is linked to the same remedy twice",
            ),
        ],
    )
    def test_wiring_that_does_not_hold_together_is_refused(self, change, message):
        with pytest.raises(ValueError, match=message):
            replace(self.good, **change)

    def test_a_checkpoint_that_calls_for_too_much_is_refused(self):
        links = [(0, remedy, RISING, 1) for remedy in range(11)]
        with pytest.raises(ValueError, match="link_checkpoint: a checkpoint calls for 11 remedies"):
            work(fixed(*range(11)), NO_ENABLING, links)

    def test_links_that_call_for_certain(self):
        """A job of 100 with a lift of 50, at a level that calls for it in no case."""
        rare = work(fixed(100), fixed(50), [(0, 0, [0, 0, 0, 0, 1], 2)], needs=[(0, 0)])
        sure = rare.calling(np.array([True]))
        assert expected_costs(CARE, certain(0), rare, Purchase(0.0)).all_in == 0
        assert expected_costs(CARE, certain(0), sure, Purchase(0.0)).all_in == pytest.approx(250)
        once = replace(rare, link_extent=np.array([[0.0, 0, 0, 0, 2]])).calling(np.array([True]))
        assert expected_costs(CARE, certain(0), once, Purchase(0.0)).all_in == pytest.approx(150)
        assert simulate(CARE, certain(0), once, Purchase(0.0), seed=1).all_in == pytest.approx(150)
        never = self.good.calling(np.zeros(2, dtype=bool))
        assert (never.link_probability == self.good.link_probability).all()

    @given(seeds, st.integers(0, 3))
    def test_a_priced_remedy_in_place_of_what_levels_call_for(self, seed, reported):
        """Up to the level that was reported a checkpoint calls for the priced remedy alone; at
        worse levels for all, so that nothing gets cheaper by being worse."""
        generator = np.random.default_rng(seed)
        full = random_work(generator, 1, monotone=True)
        first = np.arange(len(full.link_remedy)) == 0
        called = full.calling(first)
        quiet = called.silenced(~first[:, None] & (np.arange(5) <= reported))
        alone = replace(
            called,
            link_checkpoint=called.link_checkpoint[:1],
            link_remedy=called.link_remedy[:1],
            link_probability=called.link_probability[:1],
            link_extent=called.link_extent[:1],
        )

        def costs(work):
            return [expected_costs(CARE, certain(n), work, FREE_BOAT).all_in for n in range(5)]

        cost, worse = costs(quiet), reported + 1
        assert cost[:worse] == pytest.approx(costs(alone)[:worse])
        assert cost[worse:] == pytest.approx(costs(called)[worse:])
        assert (np.diff(cost) >= -1e-6).all()

    @pytest.mark.parametrize(
        ("care", "level", "message"),
        [
            (np.array([0.5, 0.2, 0.2]), levels([1, 1]), "care: sums to"),
            (np.array([1.5, -0.5, 0.0]), levels([1, 1]), r"care\[1\]: is negative"),
            (CARE, levels([1, 1]) / 2, r"level_given_care\[0, 0\]: does not sum to 1"),
            (CARE, levels([1]), r"link_checkpoint\[1\]: is not one of the 1 checkpoints"),
            (CARE, levels([1, 1])[0], r"level_given_care: needs shape \(3, J, 5\)"),
        ],
    )
    def test_a_belief_that_is_none_is_refused(self, care, level, message):
        for reckon in (
            lambda: moments(care, level, self.good, FREE_BOAT),
            lambda: simulate(care, level, self.good, FREE_BOAT, seed=1),
        ):
            with pytest.raises(ValueError, match=message):
                reckon()

    @pytest.mark.parametrize("field", ["asking", "share_sd", "fixed", "tax_rate", "reserve_rate"])
    def test_a_purchase_with_a_figure_missing_is_refused(self, field):
        with pytest.raises(ValueError, match=f"{field}: is not a number"):
            replace(FREE_BOAT, **{field: float("nan")})


class TestOneBoatByHand:
    def test_two_checkpoints_cause_one_remedy_once_at_the_larger_extent(self):
        shared = work(fixed(100), NO_ENABLING, [(0, 0, [1] * 5, 2), (1, 0, [1] * 5, 3)])
        result = moments(CARE, certain(2, 2), shared, FREE_BOAT)
        assert result.work_mean == pytest.approx(300)
        assert result.work_sd == pytest.approx(0)
        assert result.remedy_extent == pytest.approx([3])

    def test_enabling_work_shared_by_two_remedies_is_paid_once(self):
        both = work(
            fixed(100, 200),
            fixed(50),
            [(0, 0, [0.5] * 5, 1), (1, 1, [0.4] * 5, 1)],
            needs=[(0, 0), (1, 0)],
        )
        result = moments(CARE, certain(1, 1), both, FREE_BOAT)
        assert result.enabling_needed == pytest.approx([1 - 0.5 * 0.6])
        assert result.work_mean == pytest.approx(0.5 * 100 + 0.4 * 200 + 0.7 * 50)

    def test_the_care_class_makes_bad_news_come_together(self):
        apart = work(fixed(100, 100), NO_ENABLING, [(0, 0, RISING, 1), (1, 1, RISING, 1)])
        result = moments(CARE, levels([1, 1]), apart, FREE_BOAT)
        alone = moments(
            CARE, levels([1]), work(fixed(100), NO_ENABLING, [(0, 0, RISING, 1)]), FREE_BOAT
        )
        assert result.work_sd**2 > 2 * alone.work_sd**2

    def test_the_yard_rate_moves_all_labour_together(self):
        labour = work(
            prices([100, 300], [100, 300], [100, 300], labour_share=[1.0, 0.5]),
            NO_ENABLING,
            [(0, 0, [1] * 5, 1), (1, 1, [1] * 5, 1)],
        )
        result = moments(CARE, certain(0, 0), labour, FREE_BOAT)
        assert result.work_mean == pytest.approx(400)
        assert result.work_sd == pytest.approx(YARD_RATE_SD * 250)

    def test_a_quote_is_for_the_whole_job_whatever_the_extent_and_the_yard_rate(self):
        quoted = work(
            prices([10], [900], [20], labour_share=1.0, quoted=True),
            NO_ENABLING,
            [(0, 0, [1] * 5, [1, 2, 4, 8, 16])],
        )
        result = moments(CARE, levels([2]), quoted, FREE_BOAT)
        assert (result.work_mean, result.work_sd) == pytest.approx((900, 0))

    def test_a_checkpoint_that_does_not_apply_calls_for_nothing(self):
        triggers = work(fixed(100), NO_ENABLING, [(0, 0, [1] * 5, 1)])
        nothing = np.zeros((3, 1, 5))
        assert moments(CARE, nothing, triggers, FREE_BOAT).work_mean == 0
        assert simulate(CARE, nothing, triggers, FREE_BOAT, seed=1).work_cost.max() == 0

    def test_the_price_of_the_boat_carries_its_tax_and_spread(self):
        bought = Purchase(
            20_000, expected_share=0.9, share_sd=0.1, fixed=700, tax_rate=0.1, reserve_rate=0.05
        )
        result = moments(CARE, certain(), work(fixed(), NO_ENABLING, []), bought)
        assert result.all_in_mean == pytest.approx(18_000 * 1.1 + 700 + 900)
        assert result.all_in_sd == pytest.approx(2_000 * 1.1)

    def test_nothing_to_do_on_a_boat_without_checkpoints(self):
        draws = simulate(CARE, certain(), work(fixed(), NO_ENABLING, []), FREE_BOAT, seed=3)
        assert draws.all_in.max() == 0


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_exact_moments_are_those_of_every_outcome_counted_out(seed):
    """Enumerate care classes, levels and calls of a small boat; prices by their own moments."""
    generator = np.random.default_rng(seed)
    case = random_work(generator, checkpoints=3, remedies=2, enabling=1)
    care, level = random_belief(generator, 3)
    jobs = [
        *zip(case.remedies.mean, case.remedies.variance, case.remedies.yard_share, strict=True),
        *zip(case.enabling.mean, case.enabling.variance, case.enabling.yard_share, strict=True),
    ]
    mean, variance, yard = np.array(jobs).T
    links = len(case.link_remedy)
    first = second = needed = 0.0
    spaces = [range(5) if level[:, j].any() else [None] for j in range(3)]
    for c, at in product(range(3), product(*spaces)):
        odds = care[c] * np.prod([1 if t is None else level[c, j, t] for j, t in enumerate(at)])
        for triggers in product([0, 1], repeat=links):
            chance, extent = odds, np.zeros(len(mean))
            for link, called in enumerate(triggers):
                t = at[case.link_checkpoint[link]]
                p = 0.0 if t is None else case.chance[link, t]
                chance *= p if called else 1 - p
                if called and p:
                    remedy = case.link_remedy[link]
                    extent[remedy] = max(extent[remedy], case.extent[link, t])
            if not chance:
                continue
            extent[2:] = (case.needs & (extent[:2, None] > 0)).any(axis=0)
            total, labour = extent @ mean, extent @ (mean * yard)
            spread = extent**2 @ variance + YARD_RATE_SD**2 * (
                labour**2 + extent**2 @ (yard**2 * variance)
            )
            first += chance * total
            second += chance * (total**2 + spread)
            needed += chance * extent[2]
    result = moments(care, level, case, FREE_BOAT)
    assert result.work_mean == pytest.approx(first, abs=1e-6)
    assert result.work_sd**2 == pytest.approx(second - first**2, rel=1e-6, abs=1e-3)
    assert result.enabling_needed[0] == pytest.approx(needed, abs=1e-9)


ROUNDED_UP = np.array([0.1, 0.2, 0.3, 0.3, 0.1 + 2e-16])


@given(seeds)
@settings(deadline=None)
def test_expected_costs_are_those_of_the_exact_moments(seed):
    generator = np.random.default_rng(seed)
    case, purchase = random_work(generator, checkpoints=6), random_purchase(generator)
    care, level = random_belief(generator, 6)
    expected = expected_costs(care, level, case, purchase)
    exact = moments(care, level, case, purchase)
    urgent = moments(care, level, only_now(case), purchase)
    assert expected.all_in == pytest.approx(exact.all_in_mean)
    assert expected.upfront == pytest.approx(urgent.all_in_mean)
    assert expected.remedy_cost == pytest.approx(exact.remedy_mean, abs=1e-9)
    assert expected.remedy_needed == pytest.approx(exact.remedy_needed, abs=1e-12)
    assert expected.enabling_needed == pytest.approx(exact.enabling_needed, abs=1e-12)
    assert expected.enabling_now == pytest.approx(urgent.enabling_mean, abs=1e-9)
    both = expected.enabling_now + expected.enabling_later
    assert both == pytest.approx(exact.enabling_mean, abs=1e-9)


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_expected_extents_are_those_of_the_exact_moments(seed):
    generator = np.random.default_rng(seed)
    case = random_work(generator, checkpoints=12)
    care, level = random_belief(generator, 12)
    extents = expected_extents(care, level, case)
    assert extents == pytest.approx(moments(care, level, case, FREE_BOAT).remedy_extent, abs=1e-12)


def test_a_chance_is_never_below_nothing_by_rounding():
    """Probabilities that sum to a hair over 1, on checkpoints that call for nothing there."""
    assert ROUNDED_UP.sum() > 1
    belief = np.broadcast_to(ROUNDED_UP, (3, 40, 5))
    triggers = [(j, 0, [0, 0, 0, 0, 1e-17], 1) for j in range(40)]
    exact = moments(CARE, belief, work(fixed(100), NO_ENABLING, triggers), FREE_BOAT)
    assert exact.remedy_extent >= 0
    assert exact.remedy_needed >= 0


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_draws_agree_with_exact_moments(seed):
    generator = np.random.default_rng(seed)
    case, purchase = random_work(generator, checkpoints=6), random_purchase(generator)
    care, level = random_belief(generator, 6)
    exact = moments(care, level, case, purchase)
    draws = simulate(care, level, case, purchase, seed=seed)
    error = exact.all_in_sd / np.sqrt(len(draws))
    # 5 standard errors: one false alarm in a million and more draws of a test.
    assert abs(draws.all_in.mean() - exact.all_in_mean) < 5 * error + 1e-3
    assert draws.needed.mean(axis=1) == pytest.approx(exact.enabling_needed, abs=0.03)
    urgent = moments(care, level, only_now(case), purchase)
    error = urgent.all_in_sd / np.sqrt(len(draws))
    assert abs(draws.upfront.mean() - urgent.all_in_mean) < 5 * error + 1e-3
    assert np.all(draws.upfront <= draws.all_in + 1e-6)
    assert draws.all_in.std() == pytest.approx(exact.all_in_sd, rel=0.12, abs=1.0)
    assert (draws.remedy_price * draws.extent).mean(axis=1) == pytest.approx(
        exact.remedy_mean, rel=0.2, abs=60
    )


@given(seeds)
@settings(max_examples=20, deadline=None)
def test_a_recompute_without_new_facts_gives_the_same_figures(seed):
    generator = np.random.default_rng(seed)
    case, purchase = random_work(generator, checkpoints=4), random_purchase(generator)
    belief = random_belief(generator, 4)
    once = simulate(*belief, case, purchase, seed=seed)
    again = simulate(*belief, case, purchase, seed=seed)
    assert np.array_equal(once.all_in, again.all_in)
    assert np.array_equal(once.level, again.level)
    other = simulate(*belief, case, purchase, seed=seed + 1)
    assert not np.array_equal(once.price, other.price) or purchase.share_sd == 0


def test_job_prices_have_the_same_draws_for_all_boats_and_the_yard_rate_that_of_the_outcome():
    parts = work(prices([100], [200], [400]), NO_ENABLING, [(0, 0, [1] * 5, 1)])
    labour = replace(parts, remedies=replace(fixed(100), labour_share=np.ones(1)))
    one, other = (
        [simulate(CARE, certain(2), case, FREE_BOAT, seed=seed) for case in (parts, labour)]
        for seed in (1, 2)
    )
    assert np.array_equal(one[0].remedy_price, other[0].remedy_price)
    assert not np.array_equal(one[1].remedy_price, other[1].remedy_price)
    rates = [each[1].by_outcome(each[1].remedy_price) for each in (one, other)]
    assert np.array_equal(*rates)


@given(seeds, st.integers(0, 4))
@settings(max_examples=40, deadline=None)
def test_a_worse_level_never_lowers_the_expected_cost_where_worse_calls_for_more(seed, checkpoint):
    generator = np.random.default_rng(seed)
    case = random_work(generator, checkpoints=5, monotone=True)
    care, level = random_belief(generator, 5)
    level[:, checkpoint] = np.eye(5)[0]
    cost = []
    for t in range(5):
        level[:, checkpoint] = np.eye(5)[t]
        cost.append(moments(care, level, case, FREE_BOAT).work_mean)
    assert np.all(np.diff(cost) >= -1e-6)


class TestRollup:
    def reckoned(self, seed=11, budget=30_000.0, checkpoints=8):
        generator = np.random.default_rng(seed)
        case, purchase = random_work(generator, checkpoints), random_purchase(generator)
        care, level = random_belief(generator, checkpoints)
        draws = simulate(care, level, case, purchase, seed=seed)
        area, cause = generator.integers(0, 3, (2, checkpoints))
        expected = expected_costs(care, level, case, purchase)
        figures = rollup(draws, case, purchase, expected, budget, area=area, cause=cause)
        return draws, case, purchase, expected, figures

    @given(seeds)
    @settings(max_examples=25, deadline=None)
    def test_attributions_add_up(self, seed):
        draws, *_, figures = self.reckoned(seed)
        total = figures.work.mean
        close = {"rel": 1e-5, "abs": 1e-2}  # single precision
        assert figures.checkpoint_cost.sum() == pytest.approx(total, **close)
        assert figures.now_by_area_and_cause.sum() == pytest.approx(
            figures.parts.now + figures.parts.enabling, **close
        )
        assert figures.later_by_area_and_cause.sum() == pytest.approx(
            figures.parts.later + figures.parts.enabling_later, **close
        )
        assert figures.by_cause.sum() == pytest.approx(total, **close)
        assert figures.by_area_and_cause.sum() == pytest.approx(total, **close)
        assert figures.remedy_cost.sum() + figures.enabling_cost.sum() == pytest.approx(
            total, **close
        )
        assert figures.remedy_with_enabling.sum() == pytest.approx(total, **close)
        assert (figures.remedy_with_enabling >= figures.remedy_cost * (1 - 1e-5) - 1e-2).all()
        if draws.work_cost.std() > 1:
            assert figures.remedy_share.sum() == pytest.approx(1, abs=1e-3)

    @given(seeds)
    @settings(max_examples=25, deadline=None)
    def test_parts_sum_to_the_mean(self, seed):
        *_, figures = self.reckoned(seed)
        parts = [getattr(figures.parts, field.name) for field in fields(figures.parts)]
        assert sum(parts) == pytest.approx(figures.all_in.mean, rel=1e-6)
        assert sum(parts[:-2]) == pytest.approx(figures.upfront.mean, rel=1e-6)
        assert figures.upfront.mean + figures.later.mean == pytest.approx(figures.all_in.mean)

    def test_quantiles_and_the_chance_of_staying_within_the_budget(self):
        draws, *_, figures = self.reckoned()
        assert figures.all_in.low <= figures.all_in.likely <= figures.all_in.high
        assert (draws.all_in <= figures.all_in.high).mean() == pytest.approx(0.9, abs=0.001)
        assert figures.within_budget == pytest.approx((draws.upfront <= 30_000).mean())

    def test_a_shared_remedy_is_put_down_by_what_each_asked_for(self):
        shared = work(fixed(100), NO_ENABLING, [(0, 0, [1] * 5, 1), (1, 0, [1] * 5, 3)])
        draws = simulate(CARE, certain(0, 0), shared, FREE_BOAT, seed=1)
        expected = expected_costs(CARE, certain(0, 0), shared, FREE_BOAT)
        figures = rollup(
            draws, shared, FREE_BOAT, expected, 0.0, area=np.array([0, 1]), cause=np.array([0, 2])
        )
        assert figures.checkpoint_cost == pytest.approx([75, 225])
        assert figures.by_cause == pytest.approx([75, 0, 225])

    def enabled(self, now):
        """Remedies of 100 and 200, needed for sure, and enabling work of 50 that both need."""
        both = work(
            fixed(100, 200),
            fixed(50),
            [(0, 0, [1] * 5, 1), (1, 1, [1] * 5, 1)],
            needs=[(0, 0), (1, 0)],
            now=now,
        )
        draws = simulate(CARE, certain(0, 0), both, FREE_BOAT, seed=1)
        expected = expected_costs(CARE, certain(0, 0), both, FREE_BOAT)
        return rollup(
            draws, both, FREE_BOAT, expected, 150.0, area=np.array([0, 1]), cause=np.array([0, 0])
        )

    def test_enabling_work_is_put_down_to_its_callers_in_equal_parts(self):
        for now in ([0, 1], []):
            assert self.enabled(now).checkpoint_cost == pytest.approx([125, 225])

    def test_what_cannot_wait_pays_for_enabling_work_that_can_be_shared(self):
        figures = self.enabled([0])
        assert figures.checkpoint_cost == pytest.approx([150, 200])
        assert (figures.parts.now, figures.parts.enabling) == pytest.approx((100, 50))
        assert (figures.parts.later, figures.parts.enabling_later) == pytest.approx((200, 0))

    def test_the_budget_covers_what_cannot_wait_and_its_enabling_work_alone(self):
        """Guide, lists and boats: the budget is for price, tax, survey, transport and such work."""
        waiting, urgent = self.enabled([]), self.enabled([0])
        assert (waiting.upfront.mean, waiting.later.mean) == pytest.approx((0, 350))
        assert (urgent.upfront.mean, urgent.later.mean) == pytest.approx((150, 200))
        assert waiting.within_budget == urgent.within_budget == 1
        assert self.enabled([1]).within_budget == 0

    def test_drivers_are_ordered_and_leave_out_what_costs_nothing(self):
        triggers = work(fixed(100, 900, 50), NO_ENABLING, [(0, 0, RISING, 1), (2, 1, RISING, 1)])
        draws = simulate(CARE, levels([2, 2, 2]), triggers, FREE_BOAT, seed=1)
        expected = expected_costs(CARE, levels([2, 2, 2]), triggers, FREE_BOAT)
        figures = rollup(
            draws, triggers, FREE_BOAT, expected, 0.0, area=np.zeros(3, int), cause=np.zeros(3, int)
        )
        assert figures.drivers(5).tolist() == [1, 0]  # remedies, not checkpoints
        assert figures.drivers_of_doubt(1).tolist() == [1]

    @pytest.mark.parametrize(
        ("area", "cause", "message"),
        [
            (np.zeros(2, int), np.zeros(8, int), "area: needs shape"),
            (np.zeros(8, int), np.full(8, 3), "cause: is not in 0..2"),
            (np.full(8, -1), np.zeros(8, int), "area: is negative"),
        ],
    )
    def test_a_wrong_grouping_is_refused(self, area, cause, message):
        draws, case, purchase, expected, _ = self.reckoned()
        with pytest.raises(ValueError, match=message):
            rollup(draws, case, purchase, expected, 0.0, area=area, cause=cause)


def test_the_worked_example_in_the_module_still_holds():
    failed, tried = doctest.testmod(costs)
    assert tried > 0
    assert failed == 0
