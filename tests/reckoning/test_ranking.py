"""Member orders, dominance, strike-off advice and how a group stands to its order."""

from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from apps.reckoning import ranking
from apps.reckoning.bootstrap import Resampling
from apps.reckoning.ranking import (
    Dominated,
    Evidence,
    Must,
    MustBroken,
    OpenDoubt,
    OverPot,
    ToBeJudged,
    WalkAwayFinding,
    dominance,
    group_standing,
    member_orders,
    strike_off_advice,
    to_be_judged,
    within_musts,
)

NAN = np.nan


def evidence(**changes):
    """Two buyers, three candidates, two checkpoints, nothing to complain of."""
    sound = np.zeros((3, 2, 5))
    sound[..., 0] = 1.0
    quiet = Evidence(
        expected_utility=np.array([[3000.0, 2000.0, 1000.0], [1000.0, 2000.0, 3000.0]]),
        low_all_in=np.array([20_000.0, 21_000.0, 22_000.0]),
        high_all_in=np.array([26_000.0, 27_000.0, 28_000.0]),
        chance_within_pot=np.array([0.9, 0.8, 0.5]),
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


class TestMemberOrders:
    def test_it_works(self):
        utility = np.array([[500.0, -200.0, 900.0], [100.0, 300.0, 200.0]])
        orders = member_orders(utility, np.ones((2, 3), dtype=bool))
        assert orders.tolist() == [[2, 3, 1], [3, 1, 2]]

    def test_a_broken_must_comes_last_whatever_the_utility_and_ties_with_the_like(self):
        within = np.array([[False, True, True, False]])
        orders = member_orders(np.array([[9000.0, -500.0, 10.0, NAN]]), within)
        assert orders.tolist() == [[3, 2, 1, 3]]

    def test_no_worth_is_no_opinion(self):
        orders = member_orders(np.array([[500.0, NAN, 900.0], [NAN] * 3]), np.ones((2, 3), bool))
        np.testing.assert_array_equal(orders, [[2, NAN, 1], [NAN] * 3])

    def test_less_than_a_unit_of_money_ties(self):
        orders = member_orders(np.array([[100.2, 100.4, 101.4]]), np.ones((1, 3), bool))
        assert orders.tolist() == [[2, 2, 1]]

    def test_a_ballot_replaces_the_whole_order(self):
        utility = np.array([[3.0, 2.0, 1.0], [3.0, 2.0, 1.0]])
        ballots = np.array([[NAN, 1.0, 1.0], [NAN] * 3])
        orders = member_orders(utility, np.ones((2, 3), bool), ballots)
        np.testing.assert_array_equal(orders, [[NAN, 1, 1], [1, 2, 3]])

    @pytest.mark.parametrize("wrong", ["within", "ballots"])
    def test_shapes_must_fit(self, wrong):
        shapes = {"within": np.ones((2, 3), bool), "ballots": np.ones((2, 3))}
        shapes[wrong] = shapes[wrong][:1]
        with pytest.raises(ValueError, match=wrong):
            member_orders(np.zeros((2, 3)), **shapes)


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


class TestDominance:
    utility = np.array([[100.0, 300.0], [50.0, 60.0]])
    within = np.ones((2, 2), dtype=bool)
    low, high = np.array([30_000.0, 20_000.0]), np.array([35_000.0, 29_000.0])

    def test_it_works(self):
        beaten = dominance(self.utility, self.within, self.low, self.high)
        assert beaten.tolist() == [[False, True], [False, False]]

    def test_one_buyer_who_likes_it_as_well_is_enough_to_keep_it(self):
        utility = np.array([[100.0, 300.0], [60.0, 60.0]])
        assert not dominance(utility, self.within, self.low, self.high).any()

    def test_overlapping_estimates_beat_nobody(self):
        assert not dominance(self.utility, self.within, self.low, np.array([35e3, 30e3])).any()

    def test_one_that_breaks_a_must_beats_nobody(self):
        within = np.array([[True, True], [True, False]])
        assert not dominance(self.utility, within, self.low, self.high).any()

    def test_an_unknown_utility_neither_beats_nor_is_beaten(self):
        assert not dominance(
            np.array([[NAN, 300.0], [50, 60]]), self.within, self.low, self.high
        ).any()
        assert not dominance(
            np.array([[100.0, NAN], [50, 60]]), self.within, self.low, self.high
        ).any()

    def test_a_buyer_with_no_worths_at_all_is_not_asked(self):
        utility = np.array([[100.0, 300.0], [NAN, NAN]])
        assert dominance(utility, self.within, self.low, self.high)[0, 1]
        assert not dominance(utility[1:], self.within[1:], self.low, self.high).any()

    @given(st.data())
    def test_it_is_a_strict_partial_order(self, data):
        members, count = data.draw(st.integers(1, 3)), data.draw(st.integers(1, 6))
        money = st.integers(0, 5).map(float)
        utility = data.draw(hnp.arrays(float, (members, count), elements=money))
        low = data.draw(hnp.arrays(float, count, elements=money))
        high = low + data.draw(hnp.arrays(float, count, elements=money))
        within = data.draw(hnp.arrays(bool, (members, count)))
        beaten = dominance(utility, within, low, high)
        assert not (beaten & beaten.T).any()
        assert not (((beaten.astype(int) @ beaten.astype(int)) > 0) & ~beaten).any()


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
        assert advice == ((WalkAwayFinding(0, 3, pytest.approx(0.5)),), (), ())

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
        assert to_be_judged(found) == ((ToBeJudged(0, 4, 0.0, 1),), (), ())
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
        assert strike_off_advice(found) == ((OpenDoubt(0, 3, third, 1),), (), ())
        assert to_be_judged(found) == ((), (ToBeJudged(0, 3, pytest.approx(0.332), 1),), ())

    def test_a_doubt_of_two_people_is_a_reason_whatever_the_belief(self):
        found = evidence(
            doubt_level=np.array([[4, -1], [-1, -1], [-1, -1]]),
            doubt_seen_by=np.array([[2, 0], [0, 0], [0, 0]]),
        )
        assert strike_off_advice(found) == ((OpenDoubt(0, 4, 0.0, 2),), (), ())
        assert to_be_judged(found) == ((), (), ())

    def test_nobody_walks_away_from_what_has_no_walk_away_level(self):
        found = evidence(
            walk_away_level=np.array([-1, -1]),
            doubt_level=np.array([[4, -1], [3, -1], [-1, -1]]),
            doubt_seen_by=np.array([[3, 0], [0, 0], [0, 0]]),
        )
        assert strike_off_advice(found) == ((), (), ())
        assert to_be_judged(found) == ((ToBeJudged(0, 4, None, 3),), (), ())

    def test_over_pot_below_what_the_confidence_leaves(self):
        advice = strike_off_advice(evidence(chance_within_pot=np.array([0.2, 0.199, 1.0])))
        assert advice == ((), (OverPot(0.199, pytest.approx(0.2)),), ())

    def test_dominated_names_the_better_one_and_the_gap(self):
        advice = strike_off_advice(
            evidence(
                expected_utility=np.array([[3000.0, 2000.0, 1000.0], [3000.0, 2000.0, 2500.0]]),
                low_all_in=np.array([20_000.0, 21_000.0, 27_500.0]),
            )
        )
        assert advice == ((), (), (Dominated(0, 27_500.0, 26_000.0, 500.0),))

    def test_several_reasons_in_a_fixed_order(self):
        level = evidence().level
        level[0, 0] = [0, 0, 0, 0.5, 0.5]
        found = strike_off_advice(
            evidence(
                level=level,
                musts=(Must("beam", 0, np.array([2.0, 3.0, 3.0]), least=2.5),),
                doubt_level=np.array([[4, -1], [-1, -1], [-1, -1]]),
                chance_within_pot=np.array([0.1, 0.9, 0.9]),
                expected_utility=np.array([[0.0, 2000.0, 1.0], [0.0, 2000.0, 1.0]]),
                low_all_in=np.array([30_000.0, 21_000.0, 20_000.0]),
            )
        )
        codes = [reason.code for reason in found[0]]
        expected = "must_broken walk_away_finding open_doubt over_pot dominated dominated"
        assert codes == expected.split()
        assert asdict(found[0][2]) == {
            "checkpoint": 0,
            "level": 4,
            "probability": 1.0,
            "seen_by": 0,
        }

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("low_all_in", np.zeros(2)),
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


class TestGroupStanding:
    def test_who_is_far_and_over_which_boat(self):
        # Three of one mind, one who has the group's last boat first.
        ranks = np.array([[1, 2, 3, 4], [1, 2, 3, 4], [1, 2, 3, 4], [2, 3, 4, 1]], dtype=float)
        standing = group_standing(ranks)
        assert standing.methods.schulze.rank.tolist() == [1, 2, 3, 4]
        assert [view.distance for view in standing.members] == [0, 0, 0, 0.5]  # 3 of 6 pairs
        assert standing.members[0].furthest == ()
        assert standing.members[3].furthest == (3,)
        assert standing.members[3].places.tolist() == [1, 1, 1, -3]

    def test_the_reverse_order_is_at_distance_one(self):
        ranks = np.array([[1, 2, 3], [1, 2, 3], [3, 2, 1]], dtype=float)
        assert group_standing(ranks).members[2].distance == 1.0

    def test_all_of_one_mind(self):
        standing = group_standing(np.array([[1.0, 2.0, 3.0]] * 3))
        assert standing.concordance.value == pytest.approx(1.0)

    def test_concordance_over_what_every_voter_ranks(self):
        ranks = np.array([[1, 2, 3, NAN], [1, 2, 3, 4], [NAN] * 4])
        standing = group_standing(ranks)
        assert standing.concordance.value == pytest.approx(1.0)
        assert standing.members[2].distance is None
        assert np.isnan(standing.members[0].places[3])

    @pytest.mark.parametrize(
        ("ranks", "reason"),
        [
            ([[1.0, 2.0]], "too_few_raters"),
            ([[1.0], [1.0]], "too_few_units"),
            ([[1.0, 1.0], [1.0, 1.0]], "no_variation"),
        ],
    )
    def test_concordance_has_no_value_where_it_means_nothing(self, ranks, reason):
        found = group_standing(np.array(ranks)).concordance
        assert (found.value, found.reason) == (None, reason)

    def test_concordance_has_an_interval_if_asked(self):
        ranks = np.array([[1, 2, 3, 4, 5], [2, 1, 3, 5, 4], [1, 3, 2, 4, 5]], dtype=float)
        found = group_standing(ranks, resampling=Resampling()).concordance
        assert found.low < found.value <= found.high

    def test_shares_decide(self):
        ranks = np.array([[1, 2], [2, 1], [2, 1]], dtype=float)
        assert group_standing(ranks).methods.schulze.rank.tolist() == [2, 1]
        assert group_standing(ranks, [0.6, 0.2, 0.2]).methods.schulze.rank.tolist() == [1, 2]

    @given(st.data())
    def test_relabelling_candidates_relabels_everything(self, data):
        count = data.draw(st.integers(2, 5))
        ranks = data.draw(hnp.arrays(float, (3, count), elements=st.sampled_from([1.0, 2, 3, NAN])))
        to = np.array(data.draw(st.permutations(range(count))))
        before, after = group_standing(ranks), group_standing(ranks[:, to])
        assert before.concordance.value == pytest.approx(after.concordance.value)
        np.testing.assert_array_equal(after.methods.schulze.rank, before.methods.schulze.rank[to])
        for old, new in zip(before.members, after.members, strict=True):
            assert old.distance == pytest.approx(new.distance)
            np.testing.assert_array_equal(new.places, old.places[to])
            assert {int(to[i]) for i in new.furthest} == set(old.furthest)


def test_constants_are_the_models():
    # model.md section 4, and what was agreed since, 7.
    assert (ranking.WALK_AWAY_PROBABILITY, ranking.DOUBT_LEVEL) == (0.5, 4)
    assert (ranking.DOUBT_PROBABILITY, ranking.DOUBT_PEOPLE) == (1 / 3, 2)
