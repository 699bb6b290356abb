"""Dominance and strike-off advice."""

from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from apps.reckoning import advice
from apps.reckoning.advice import (
    AdviceInputs,
    chance_best,
    chance_better,
    dominance,
    strike_off_advice,
    to_be_judged,
)
from apps.reckoning.musts import Must, within_musts
from apps.reckoning.reasons import (
    CostsMoreReason,
    DominatedReason,
    MustBroken,
    OpenDoubtReason,
    OverBudgetReason,
    ToBeJudgedReason,
    WalkAwayReason,
)

NAN = np.nan


def evidence(**changes):
    """Two buyers, three candidates, two checkpoints, nothing to complain of."""
    sound = np.zeros((3, 2, 5))
    sound[..., 0] = 1.0
    quiet = AdviceInputs(
        expected_utility=np.array([[3000.0, 2000.0, 1000.0], [1000.0, 2000.0, 3000.0]]),
        chance_better=np.full((3, 3), 0.5),
        chance_costs_more=np.array([0.1, 0.2, 0.49]),
        chance_best=np.array([0.5, 0.45, 0.05]),
        chance_within_budget=np.array([0.9, 0.8, 0.5]),
        required_confidence=0.8,
        musts=(),
        level=sound,
        looked=np.ones((3, 2), dtype=bool),
        walk_away_level=np.array([3, -1]),
        doubt_level=np.full((3, 2), -1),
        doubt_seen_by=np.zeros((3, 2), dtype=int),
        grave=np.array([True, False]),
    )
    return replace(quiet, **changes)


class TestMusts:
    def test_each_member_has_its_own(self):
        draught = Must("draught", member=0, value=np.array([1.5, 1.9, NAN]), most=1.6)
        engine = Must("engine access", member=1, value=np.array([0.0, 1.0, 1.0]), least=1.0)
        within = within_musts([draught, engine], members=2, candidates=3)
        assert within.tolist() == [[True, False, True], [False, True, True]]

    @pytest.mark.parametrize(
        ("member", "value", "said"), [(2, [1.0] * 3, "no member 2"), (0, [1.0] * 2, "shape")]
    )
    def test_errors_name_the_want(self, member, value, said):
        with pytest.raises(ValueError, match=f"'draught'.*{said}"):
            within_musts([Must("draught", member, np.array(value))], members=2, candidates=3)


class TestChanceBest:
    valuation = np.array([50.0, 60.0, 40.0])
    regretted = np.array(
        [[45.0, 45.0, 45.0, 55.0], [50.0, 56.0, 70.0, 70.0], [30.0, 41.0, 41.0, 41.0]]
    )  # leaves 5 5 5 -5, 10 4 -10 -10, 10 -1 -1 -1
    all_in_play = np.ones(3, dtype=bool)

    def test_it_counts_the_outcomes_in_which_nothing_else_is_as_good(self):
        """The first in two of four: in one the others tie, in one it is best to buy none."""
        chance = chance_best(self.valuation, self.regretted, self.all_in_play)
        assert chance.tolist() == [0.5, 0.0, 0.0]

    def test_one_that_is_struck_off_is_no_rival(self):
        there = np.array([True, False, True])
        chance = chance_best(self.valuation, self.regretted, there)
        assert chance.tolist() == [0.5, 0.0, 0.25]

    def test_one_of_which_no_valuation_or_cost_is_known_has_no_chance_and_is_no_rival(self):
        for valuation, regretted in (
            (np.array([50.0, NAN, 40.0]), self.regretted),
            (self.valuation, np.where(np.arange(3)[:, None] == 1, NAN, self.regretted)),
        ):
            chance = chance_best(valuation, regretted, self.all_in_play)
            assert chance[[0, 2]].tolist() == [0.5, 0.25]
            assert np.isnan(chance[1])

    def test_alone_she_is_best_where_she_is_worth_what_she_costs(self):
        chance = chance_best(self.valuation[:1], self.regretted[:1], self.all_in_play[:1])
        assert chance.tolist() == [0.75]

    @given(st.integers(0, 2**32 - 1), st.integers(1, 6))
    def test_the_chances_and_that_none_is_come_to_one(self, seed, boats):
        rng = np.random.default_rng(seed)
        valuation, regretted = rng.normal(0, 1, boats), rng.normal(0, 1, (boats, 50))
        none = ((valuation[:, None] - regretted) <= 0).all(axis=0).mean()
        chance = chance_best(valuation, regretted, np.ones(boats, dtype=bool))
        assert chance.sum() + none == pytest.approx(1.0)


class TestChanceBetter:
    def test_it_counts_the_outcomes_in_which_everybody_would_be_better_off(self):
        valuation = np.array([[50.0, 60.0], [50.0, 55.0]])  # the second is worth 5 more at least
        regretted = np.array([[40.0, 40.0, 40.0, 40.0], [44.0, 45.0, 46.0, 30.0]])
        chance = chance_better(valuation, regretted)
        assert chance[0, 1] == 0.5
        assert chance[1, 0] == 0.0  # for the first buyer she would have to cost 10 less, 5 + 10
        assert chance[0, 0] == chance[1, 1] == 0.0

    def test_unknown_valuations_and_costs_are_unknown_chances(self):
        regretted = np.zeros((2, 8))
        assert np.isnan(chance_better(np.array([[1.0, NAN], [1.0, 2.0]]), regretted)[0, 1])
        assert np.isnan(chance_better(np.full((2, 2), NAN), regretted)).all()
        unpriced = np.array([[0.0] * 8, [NAN] * 8])
        assert np.isnan(chance_better(np.ones((1, 2)), unpriced)[0, 1])

    def test_a_buyer_with_no_valuations_at_all_is_not_asked(self):
        valuation = np.array([[1.0, 9.0], [NAN, NAN]])
        assert chance_better(valuation, np.zeros((2, 8)))[0, 1] == 1.0

    @given(st.data())
    def test_two_cannot_both_be_better(self, data):
        count = data.draw(st.integers(1, 5))
        money = st.integers(-5, 5).map(float)
        valuation = data.draw(hnp.arrays(float, (2, count), elements=money))
        regretted = data.draw(hnp.arrays(float, (count, 7), elements=money))
        chance = chance_better(valuation, regretted)
        assert (chance + chance.T <= 1.0).all()
        cheaper = regretted.copy()
        cheaper[0] -= 1.0
        assert (chance_better(valuation, cheaper)[:, 0] >= chance[:, 0])[1:].all()


class TestDominance:
    utility = np.array([[100.0, 300.0], [50.0, 60.0]])
    within = np.ones((2, 2), dtype=bool)
    better = np.array([[0.0, 0.95], [0.05, 0.0]])

    def test_it_works(self):
        beaten = dominance(self.utility, self.within, self.better)
        assert beaten.tolist() == [[False, True], [False, False]]

    def test_one_buyer_who_likes_it_as_well_is_enough_to_keep_it(self):
        utility = np.array([[100.0, 300.0], [60.0, 60.0]])
        assert not dominance(utility, self.within, self.better).any()

    def test_one_that_is_not_surely_better_beats_nobody(self):
        assert not dominance(self.utility, self.within, self.better - 0.001).any()

    def test_one_that_breaks_a_must_beats_nobody(self):
        within = np.array([[True, True], [True, False]])
        assert not dominance(self.utility, within, self.better).any()

    def test_an_unknown_utility_neither_beats_nor_is_beaten(self):
        for utility in ([[NAN, 300.0], [50, 60]], [[100.0, NAN], [50, 60]]):
            assert not dominance(np.array(utility), self.within, self.better).any()
        assert not dominance(self.utility, self.within, np.full((2, 2), NAN)).any()

    def test_a_buyer_with_no_valuations_at_all_is_not_asked(self):
        utility = np.array([[100.0, 300.0], [NAN, NAN]])
        assert dominance(utility, self.within, self.better)[0, 1]
        assert not dominance(utility[1:], self.within[1:], self.better).any()

    @given(st.data())
    def test_no_two_beat_one_another_and_somebody_is_beaten_by_none(self, data):
        members, count = data.draw(st.integers(1, 3)), data.draw(st.integers(1, 6))
        money = st.integers(0, 5).map(float)
        valuation = data.draw(hnp.arrays(float, (members, count), elements=money))
        regretted = data.draw(hnp.arrays(float, (count, 5), elements=money))
        beaten = dominance(
            valuation - regretted.mean(axis=1),
            np.ones((members, count), dtype=bool),
            chance_better(valuation, regretted),
        )
        assert not (beaten & beaten.T).any()
        assert not beaten.any(axis=1).all()


class TestAdvice:
    def test_no_reason_no_advice(self):
        assert strike_off_advice(evidence()) == ((), (), ())

    def test_broken_must_gives_the_value_and_the_limit(self):
        must = Must("draught", member=1, value=np.array([1.5, 1.9, NAN]), most=1.6)
        advice = strike_off_advice(evidence(musts=(must,)))
        assert advice == ((), (MustBroken("draught", 1, 1.9, -np.inf, 1.6),), ())
        assert advice[1][0].code == "must_broken"

    def test_walk_away_finding_at_one_half(self):
        level = evidence().level
        level[0, 0] = [0.2, 0.2, 0.1, 0.2, 0.3]  # sums to one half with a rounding error
        level[1, 0] = [0.2, 0.2, 0.11, 0.19, 0.3]
        level[2, 1] = [0, 0, 0, 0, 1.0]  # has no walk-away level
        advice = strike_off_advice(evidence(level=level))
        assert advice == ((WalkAwayReason(0, 3, pytest.approx(0.5)),), (), ())

    def test_what_nobody_looked_at_is_no_finding(self):
        level = evidence().level
        level[0, 0] = [0, 0, 0, 0, 1.0]
        looked = np.array([[False, True], [True, True], [True, True]])
        assert strike_off_advice(evidence(level=level, looked=looked)) == ((), (), ())

    def test_one_persons_doubt_is_to_be_judged_and_no_reason(self):
        found = evidence(
            doubt_level=np.array([[4, -1], [2, -1], [-1, 4]]),  # below it, and on what is not grave
            doubt_seen_by=np.array([[1, 0], [0, 0], [0, 1]]),
        )
        assert strike_off_advice(found) == ((), (), ())
        assert to_be_judged(found) == ((ToBeJudgedReason(0, 4, 0.0, 1),), (), ())
        assert to_be_judged(found)[0][0].code == "to_be_judged"

    def test_a_doubt_that_is_believed_is_a_reason(self):
        level = evidence().level
        level[0, 0] = [0.3, 0.2, 0.5 - 1 / 3, 0.1, 1 / 3 - 0.1]  # a third with a rounding error
        level[1, 0] = [0.3, 0.2, 0.168, 0.1, 0.232]
        doubts = {
            "doubt_level": np.array([[3, -1], [3, -1], [-1, -1]]),
            "doubt_seen_by": np.array([[1, 0], [1, 0], [0, 0]]),
        }
        found = evidence(level=level, **doubts)
        third = pytest.approx(1 / 3)
        assert strike_off_advice(found) == ((OpenDoubtReason(0, 3, third, 1),), (), ())
        assert to_be_judged(found) == ((), (ToBeJudgedReason(0, 3, pytest.approx(0.332), 1),), ())

    def test_a_doubt_of_two_people_is_a_reason_whatever_the_belief(self):
        found = evidence(
            doubt_level=np.array([[4, -1], [-1, -1], [-1, -1]]),
            doubt_seen_by=np.array([[2, 0], [0, 0], [0, 0]]),
        )
        assert strike_off_advice(found) == ((OpenDoubtReason(0, 4, 0.0, 2),), (), ())
        assert to_be_judged(found) == ((), (), ())

    def test_nobody_walks_away_from_what_has_no_walk_away_level(self):
        found = evidence(
            walk_away_level=np.array([-1, -1]),
            doubt_level=np.array([[4, -1], [3, -1], [-1, -1]]),
            doubt_seen_by=np.array([[3, 0], [0, 0], [0, 0]]),
        )
        assert strike_off_advice(found) == ((), (), ())
        assert to_be_judged(found) == ((ToBeJudgedReason(0, 4, None, 3),), (), ())

    def test_over_budget_below_what_the_confidence_leaves(self):
        found = evidence(chance_within_budget=np.array([0.2, 0.199, 1.0]), chance_best=np.zeros(3))
        assert strike_off_advice(found) == ((), (OverBudgetReason(0.199, pytest.approx(0.2)),), ())

    def test_costs_more_from_60_percent_on(self):
        costs = {"chance_costs_more": np.array([0.59, 0.60, NAN]), "chance_best": np.full(3, 0.02)}
        advice = strike_off_advice(evidence(**costs))
        assert advice == ((), (CostsMoreReason(0.60, 0.02, pytest.approx(5.0)),), ())

    def test_money_alone_is_no_reason_against_one_that_may_well_be_the_best_choice(self):
        found = evidence(
            chance_within_budget=np.full(3, 0.1),
            chance_costs_more=np.full(3, 0.8),
            chance_best=np.array([1 - 0.92, 0.079, NAN]),  # the first with a rounding error
        )
        codes = [[one.code for one in advice] for advice in strike_off_advice(found)]
        assert codes == [[], ["over_budget", "costs_more"], ["over_budget", "costs_more"]]

    def test_dominated_names_the_one_with_the_most_to_gain_and_counts_the_others(self):
        better = np.full((3, 3), 0.5)
        better[2, :2] = 0.99, 0.96
        utility = np.array([[3000.0, 2000.0, 1000.0], [2800.0, 2900.0, 2500.0]])
        advice = strike_off_advice(evidence(expected_utility=utility, chance_better=better))
        # By 2,000 and 300 from the first, by 1,000 and 400 from the second.
        assert advice == ((), (), (DominatedReason(1, 0.96, (0,)),))

    def test_several_reasons_in_a_fixed_order(self):
        level = evidence().level
        level[0, 0] = [0, 0, 0, 0.5, 0.5]
        level[0, 1] = [0.6, 0, 0, 0, 0.4]
        found = strike_off_advice(
            evidence(
                level=level,
                walk_away_level=np.array([3, 4]),
                grave=np.array([True, True]),
                musts=(Must("beam", 0, np.array([2.0, 3.0, 3.0]), least=2.5),),
                doubt_level=np.array([[-1, 4], [-1, -1], [-1, -1]]),
                doubt_seen_by=np.array([[0, 1], [0, 0], [0, 0]]),
                chance_within_budget=np.array([0.1, 0.9, 0.9]),
                expected_utility=np.array([[0.0, 2000.0, 1.0], [0.0, 2000.0, 1.0]]),
                chance_better=np.array([[0.0, 1.0, 1.0], [0.0] * 3, [0.0] * 3]),
                chance_costs_more=np.array([1.0, 0.0, 0.0]),
                chance_best=np.array([0.0, 1.0, 0.0]),
            )
        )
        codes = [reason.code for reason in found[0]]
        expected = "must_broken walk_away_finding open_doubt over_budget costs_more dominated"
        assert codes == expected.split()
        assert asdict(found[0][2]) == {
            "checkpoint": 1,
            "level": 4,
            "probability": 0.4,
            "seen_by": 1,
        }

    def test_one_thing_is_said_once(self):
        """A doubt about a checkpoint found at the walk-away level is no second reason."""
        level = evidence().level
        level[0, 0] = [0, 0, 0, 0, 1.0]
        found = evidence(
            level=level,
            doubt_level=np.array([[4, -1], [-1, -1], [-1, -1]]),
            doubt_seen_by=np.array([[2, 0], [0, 0], [0, 0]]),
        )
        assert strike_off_advice(found) == ((WalkAwayReason(0, 3, 1.0),), (), ())
        assert to_be_judged(found) == ((), (), ())

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("chance_better", np.zeros((3, 2))),
            ("chance_costs_more", np.zeros(2)),
            ("chance_best", np.zeros(2)),
            ("level", np.zeros((3, 2, 4))),
            ("looked", np.ones((2, 2), bool)),
            ("doubt_seen_by", np.ones((2, 2), int)),
            ("required_confidence", 1.0),
            ("required_confidence", 0.4),
        ],
    )
    def test_wrong_evidence_is_refused_by_name(self, field, value):
        with pytest.raises(ValueError, match=field):
            evidence(**{field: value})


def test_constants_are_the_models():
    # model.md section 4, and what was agreed since, 7.
    assert (advice.WALK_AWAY_PROBABILITY, advice.DOUBT_LEVEL) == (0.5, 4)
    assert (advice.DOUBT_PROBABILITY, advice.DOUBT_PEOPLE) == (1 / 3, 2)
    # Decisions 64 and 78, set on seasons of their own.
    assert (advice.COSTS_MORE_PROBABILITY, advice.IN_THE_RUNNING, advice.SURE) == (
        0.60,
        0.08,
        0.95,
    )
