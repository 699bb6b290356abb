"""Effects of surveys and bills on estimates: few change little, none change nothing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.levels import discretised_normal, level_prior
from apps.reckoning.outcomes import (
    CostFactor,
    Triggers,
    cost_factor,
    expected_over_care,
    level_shifts,
    log_spread,
    mean_of,
    monotone_medians,
    ratio_of,
    share_of,
    trouble_expected,
    with_factors,
)
from apps.reckoning.work import Prices

QUICK = settings(max_examples=60, deadline=None)


# --- Shares and means ----------------------------------------------------------------------------


@QUICK
@given(st.integers(1, 300).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_a_share_lies_in_its_interval(counts):
    count, of = counts
    share = share_of(count, of)
    assert 0 <= share.low <= share.value <= share.high <= 1
    other = share_of(of - count, of)
    assert (share.low, share.high) == pytest.approx((1 - other.high, 1 - other.low))


def test_a_share_of_more_is_surer():
    widths = [(one := share_of(n // 4, n)).high - one.low for n in (8, 40, 400)]
    assert widths == sorted(widths, reverse=True)


@pytest.mark.parametrize(("count", "of"), [(-1, 4), (5, 4), (0, 0)])
def test_what_is_no_share_is_refused(count, of):
    with pytest.raises(ValueError, match="count"):
        share_of(count, of)


def test_values_that_happen_to_agree_are_not_certain():
    agreed = mean_of([0.0, 0.0, 0.0, 0.0], prior_sd=1.0, prior_weight=2.0)
    assert agreed.low < -0.2 < 0.2 < agreed.high
    assert mean_of([0.0] * 4) == mean_of([0.0] * 4, prior_sd=9.0)


def test_what_is_no_number_is_refused():
    for values in ([1.0], [1.0, float("nan")]):
        with pytest.raises(ValueError, match="values"):
            mean_of(values)


@QUICK
@given(st.lists(st.floats(-3, 3), min_size=2, max_size=30))
def test_a_ratio_lies_in_its_interval_and_turns_round(logs):
    ratio = ratio_of(logs, prior_sd=0.4, prior_weight=2.0)
    assert 0 < ratio.low <= ratio.value <= ratio.high < np.inf
    turned = ratio_of([-x for x in logs], prior_sd=0.4, prior_weight=2.0)
    assert turned.value == pytest.approx(1 / ratio.value)


# --- Levels --------------------------------------------------------------------------------------


def shifts(levels, *, kinds=None, mean=1.2, sd=0.9, **options):
    level = np.asarray(levels, dtype=np.intp)
    kinds = np.ones((len(level), 1), dtype=bool) if kinds is None else np.asarray(kinds)
    full = np.full(len(level), mean)
    return level_shifts(level, full, np.full(len(level), sd), kinds, **options)


def test_without_surveys_the_catalogue_stands():
    assert shifts([]).tolist() == [0.0]


@QUICK
@given(
    st.lists(st.tuples(st.integers(0, 4), st.booleans(), st.booleans()), max_size=40),
    st.floats(-3, 7),
    st.floats(0.2, 2.0),
    st.floats(0.5, 100.0),
)
def test_shifts_are_numbers_whatever_was_found(found, mean, sd, strength):
    levels = [level for level, _, _ in found]
    kinds = np.array([[True, a, b] for _, a, b in found], dtype=bool).reshape(-1, 3)
    moved = shifts(levels, kinds=kinds, mean=mean, sd=sd, strength=strength)
    assert np.isfinite(moved).all()
    assert (np.abs(moved) < 12).all()


def test_more_surveys_move_more_and_never_beyond_what_they_found():
    moved = [shifts([3] * n)[0] for n in (1, 10, 100, 10_000)]
    assert moved == sorted(moved)
    assert moved[0] < 0.15
    assert moved[-1] == pytest.approx(3 - 1.2, abs=0.05)


def test_ever_more_surveys_bring_the_data_back():
    """Levels drawn about another mean: it is found again."""
    rng = np.random.default_rng(5)
    drawn = rng.choice(5, size=6000, p=discretised_normal(2.1, 0.9))
    assert shifts(drawn)[0] == pytest.approx(0.9, abs=0.05)


def test_surveys_that_found_what_was_expected_move_nothing():
    expected = discretised_normal(1.2, 0.9)
    counts = np.round(expected * 100_000).astype(int)
    assert shifts(np.repeat(np.arange(5), counts // 10))[0] == pytest.approx(0.0, abs=0.002)


def test_a_kind_differs_from_all_only_as_far_as_its_boats_say():
    kinds = np.ones((60, 2), dtype=bool)
    kinds[30:, 1] = False
    every, one = shifts([3] * 30 + [1] * 30, kinds=kinds)
    alone_every, alone_one = shifts([3] * 60, kinds=kinds)
    assert one > alone_one
    assert every < alone_every
    assert 1.0 < every + one < 3 - 1.2  # of 30 boats


def test_strength_holds_the_catalogue():
    assert shifts([4] * 10, strength=200.0)[0] < 0.3 < shifts([4] * 10, strength=2.0)[0]


def test_bad_shapes_and_levels_are_named():
    with pytest.raises(ValueError, match="level"):
        shifts([5])
    with pytest.raises(ValueError, match="strength"):
        shifts([1], strength=0.0)
    level, one = np.zeros(1, dtype=np.intp), np.ones(1)
    with pytest.raises(ValueError, match="mean"):
        level_shifts(level, np.ones(2), one, np.ones((1, 1), dtype=bool))


def test_care_is_averaged_over():
    """By sampling: mean and spread of a boat of whatever care class."""
    rng = np.random.default_rng(1)
    shift = rng.choice([-0.6, 0.0, 0.8], p=[0.25, 0.5, 0.25], size=400_000)
    drawn = 1.2 + 0.7 * shift + rng.normal(0, 0.8, 400_000)
    mean, sd = expected_over_care(np.array([1.2]), np.array([0.7]), np.array([0.8]))
    assert (mean[0], sd[0]) == pytest.approx((drawn.mean(), drawn.std()), abs=0.01)
    share = trouble_expected(mean, sd, 0.0)[0]
    assert share == pytest.approx((drawn > 2.5).mean(), abs=0.01)
    broken = rng.random(400_000) < 0.05
    assert trouble_expected(mean, sd, 0.05)[0] == pytest.approx(
        ((drawn > 2.5) | broken).mean(), abs=0.003
    )


def test_what_breaks_more_often_than_expected_moves_the_shift_and_the_few_expected_hardly():
    expected = np.round(level_prior(0.8, 0.6, 0.02) * 1_000).astype(int)
    few = shifts(np.repeat(np.arange(5), expected), mean=0.8, sd=0.6)[0]
    many = shifts([1] * 18 + [4] * 12, mean=0.8, sd=0.6)[0]
    assert 0 < few < 0.1
    assert many > 0.3


# --- Costs ---------------------------------------------------------------------------------------


def prices(likely=(1000.0, 400.0), *, low=0.7, high=1.8, quoted=False) -> Prices:
    points, none = np.array(likely), np.zeros(len(likely))
    return Prices(
        low=points * low,
        likely=points,
        high=points * high,
        labour_share=none + 0.5,
        quoted=none + quoted > 0,
        quote_sd=none,
    )


def test_without_bills_the_catalogue_stands():
    assert cost_factor([], 0.3) == CostFactor(1.0, 1.0)
    before = prices()
    after = with_factors(before, np.ones(2), np.ones(2))
    for name in ("low", "likely", "high"):
        assert (getattr(after, name) == getattr(before, name)).all()


@QUICK
@given(
    st.lists(st.floats(-9, 9) | st.just(float("inf")) | st.just(float("-inf")), max_size=30),
    st.floats(0.0, 2.0),
)
def test_factors_are_positive_numbers_whatever_was_billed(logs, log_sd):
    factor = cost_factor(logs, log_sd)
    assert 1 / 20 <= factor.median <= 20
    assert 0 < factor.spread < 100


def test_more_bills_move_more():
    moved = [cost_factor([np.log(2.0)] * n, 0.3).median for n in (1, 10, 100, 10_000)]
    assert moved == sorted(moved)
    assert moved[0] < 1.08
    assert moved[1] == pytest.approx(np.sqrt(2.0))  # ten bills weigh as much as the catalogue
    assert moved[-1] == pytest.approx(2.0, rel=0.01)


def test_the_spread_goes_to_that_of_the_bills():
    rng = np.random.default_rng(2)
    bills = rng.normal(0.2, 0.6, 5000)
    assert cost_factor(bills, 0.3).spread * 0.3 == pytest.approx(0.6, abs=0.02)
    tight = rng.normal(0.2, 0.1, 5000)
    assert cost_factor(tight, 0.3).spread < 0.5


@QUICK
@given(st.floats(0.05, 20), st.floats(0.1, 10), st.floats(0, 1), st.floats(1, 5))
def test_three_points_stay_in_order_and_the_mean_moves_by_the_median(median, spread, low, high):
    before = prices(low=low, high=high)
    after = with_factors(before, np.full(2, median), np.full(2, spread))
    assert (after.low <= after.likely * (1 + 1e-12)).all()
    assert after.mean == pytest.approx(before.mean * median)


def test_a_wider_spread_widens():
    before = prices()
    wider = with_factors(before, np.ones(2), np.full(2, 2.0))
    assert (log_spread(wider) > log_spread(before)).all()
    assert wider.mean == pytest.approx(before.mean)


def test_quotes_are_left_alone():
    before = prices(quoted=True)
    after = with_factors(before, np.full(2, 3.0), np.full(2, 2.0))
    assert (after.likely == before.likely).all()


def test_what_costs_nothing_stays_nothing():
    free = with_factors(prices((0.0, 10.0)), np.full(2, 2.0), np.full(2, 1.5))
    assert (free.low[0], free.likely[0], free.high[0]) == (0.0, 0.0, 0.0)


# --- No worse level cheaper ----------------------------------------------------------------------

# One checkpoint: repair at level 3, renewal in its place at 4. Another wants the repair only.
CALLS = Triggers(
    checkpoint=np.array([0, 0, 1]),
    remedy=np.array([0, 1, 0]),
    weight=np.array([[0, 0, 0.2, 1, 0], [0, 0, 0, 0, 1], [0, 0, 0, 0.5, 1]], float),
)
PRICE = np.array([1000.0, 1500.0])


def test_factors_that_keep_the_order_stay():
    medians = np.array([1.2, 1.1])
    assert monotone_medians(medians, PRICE, CALLS) == pytest.approx(medians)


def test_factors_that_would_turn_it_round_are_pulled_back():
    medians = monotone_medians(np.array([2.0, 0.5]), PRICE, CALLS)
    repair, renewal = PRICE * medians
    assert renewal >= repair * 0.99
    assert 1 <= medians[0] < 2.0
    assert 0.5 < medians[1] <= 1


@QUICK
@given(
    st.integers(0, 10_000),
    st.lists(st.floats(0.05, 20.0), min_size=6, max_size=6),
)
def test_monotone_remedies_stay_monotone(seed, medians):
    rng = np.random.default_rng(seed)
    weight = np.sort(rng.random((12, 5)), axis=1)  # each remedy is called for more by worse levels
    weight[rng.random((12, 5)) < 0.2] = 0
    weight = np.maximum.accumulate(weight, axis=1)
    triggers = Triggers(np.repeat(np.arange(4), 3), rng.integers(0, 6, 12), weight)
    price = rng.uniform(100, 5000, 6)
    assert (np.diff(triggers.by_level(price), axis=1) >= 0).all()
    kept = monotone_medians(np.array(medians), price, triggers)
    steps = np.diff(triggers.by_level(price * kept), axis=1)
    assert (steps >= -1e-3 * triggers.by_level(price).max()).all()
    assert ((kept - 1) * (np.array(medians) - 1) >= 0).all()


def test_no_links_no_order_to_keep():
    empty = Triggers(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros((0, 5)))
    assert monotone_medians(np.array([3.0]), np.array([1.0]), empty) == pytest.approx([3.0])
