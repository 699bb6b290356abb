"""Members' orders, and how they relate to the group's order."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from apps.reckoning.bootstrap import Resampling
from apps.reckoning.ranking import group_standing, member_orders

NAN = np.nan
NO_ERROR = np.zeros(3)


class TestMemberOrders:
    def test_it_works(self):
        utility = np.array([[500.0, -200.0, 900.0], [100.0, 300.0, 200.0]])
        orders = member_orders(utility, NO_ERROR, np.ones((2, 3), dtype=bool))
        assert orders.tolist() == [[2, 3, 1], [3, 1, 2]]

    def test_a_broken_must_comes_last_whatever_the_utility_and_ties_with_the_like(self):
        within = np.array([[False, True, True, False]])
        orders = member_orders(np.array([[9000.0, -500.0, 10.0, NAN]]), np.zeros(4), within)
        assert orders.tolist() == [[3, 2, 1, 3]]

    def test_no_valuation_is_no_opinion(self):
        orders = member_orders(
            np.array([[500.0, NAN, 900.0], [NAN] * 3]), NO_ERROR, np.ones((2, 3), bool)
        )
        np.testing.assert_array_equal(orders, [[2, NAN, 1], [NAN] * 3])

    def test_less_than_a_unit_of_money_ties(self):
        orders = member_orders(np.array([[100.2, 100.5, 101.6]]), NO_ERROR, np.ones((1, 3), bool))
        assert orders.tolist() == [[2, 2, 1]]

    def test_what_is_within_the_noise_ties(self):
        utility = np.array([[5_000.0, 4_800.0, 4_000.0], [1_000.0, 2_000.0, 2_150.0]])
        orders = member_orders(utility, np.full(3, 50.0), np.ones((2, 3), bool))
        assert orders.tolist() == [[1, 1, 3], [3, 1, 1]]

    def test_a_ballot_replaces_the_whole_order(self):
        utility = np.array([[30.0, 20.0, 10.0], [30.0, 20.0, 10.0]])
        ballots = np.array([[NAN, 1.0, 1.0], [NAN] * 3])
        orders = member_orders(utility, NO_ERROR, np.ones((2, 3), bool), ballots)
        np.testing.assert_array_equal(orders, [[NAN, 1, 1], [1, 2, 3]])

    @pytest.mark.parametrize("wrong", ["within", "ballots"])
    def test_shapes_must_fit(self, wrong):
        shapes = {"within": np.ones((2, 3), bool), "ballots": np.ones((2, 3))}
        shapes[wrong] = shapes[wrong][:1]
        with pytest.raises(ValueError, match=wrong):
            member_orders(np.zeros((2, 3)), NO_ERROR, **shapes)


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
