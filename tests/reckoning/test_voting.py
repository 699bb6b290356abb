"""Known properties of the voting methods, and refused input."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from apps.reckoning.voting import KEMENY_LIMIT, compare, kemeny, pairwise, ranks_from_tiers, schulze

NAN = np.nan
SHARES = (1 / 6, 1 / 6, 1 / 6, 1 / 2)


@st.composite
def elections(draw, candidates=(2, 5), gaps=True):
    """Ranks with ties and, with `gaps`, candidates that a ballot does not name; and weights."""
    count, voters = draw(st.integers(*candidates)), draw(st.integers(1, 5))
    rank = st.sampled_from([1.0, 2.0, 3.0, NAN] if gaps else [1.0, 2.0, 3.0])
    ranks = draw(
        st.lists(st.lists(rank, min_size=count, max_size=count), min_size=voters, max_size=voters)
    )
    weights = draw(
        st.lists(st.sampled_from([0.0, 1.0, 2.0, *SHARES]), min_size=voters, max_size=voters)
    )
    return np.array(ranks), np.array(weights)


def results(comparison):
    methods = (comparison.schulze, comparison.borda, comparison.kemeny)
    return [(method.rank, method.winners) for method in methods]


@given(elections(), st.data())
def test_relabelling_candidates_relabels_the_result(election, data):
    ranks, weights = election
    to = np.array(data.draw(st.permutations(range(ranks.shape[1]))))
    before, after = compare(ranks, weights), compare(ranks[:, to], weights)
    for (rank, winners), (new_rank, new_winners) in zip(
        results(before), results(after), strict=True
    ):
        np.testing.assert_array_equal(new_rank, rank[to])
        np.testing.assert_array_equal(new_winners, winners[to])
    contested = {frozenset(pair) for pair in before.contested}
    assert {frozenset(to[list(pair)]) for pair in after.contested} == contested


@pytest.mark.parametrize("shuffled", [[0, 1, 2], [2, 0, 1]])
def test_what_is_level_stays_level_whatever_the_order_of_ballots(shuffled):
    """Found by the test below: thirds of votes, halved, used to be rounded either way."""
    ranks = np.array([[1, 2, 1, 2], [3, 3, NAN, 2], [2, NAN, 3, 3]])
    weights = np.array([1 / 2, 1 / 2, 1 / 6])
    by_points = compare(ranks[shuffled], weights[shuffled]).borda
    np.testing.assert_array_equal(by_points.rank, [1, 4, 1, 3])
    np.testing.assert_allclose(by_points.score, np.array([13, 6, 13, 10]) / 6, atol=1e-8)


@pytest.mark.parametrize("whole", [1.0, 2.0, 6.0])
def test_orders_equally_good_by_kemeny_are_all_found_whatever_the_weights_sum_to(whole):
    """Twice two thirds, rounded, differed from four thirds, rounded: the order seemed worse."""
    ranks = np.array([[NAN, 2, 1], [3, NAN, NAN], [1, NAN, 2], [3, 1, 2]])
    found = compare(ranks, whole * np.array([1 / 3, 1 / 6, 1 / 3, 1 / 6])).kemeny
    assert found.best_orders == 3
    np.testing.assert_array_equal(found.rank, [1, 1, 1])


@given(elections(), st.data())
def test_order_of_ballots_does_not_matter(election, data):
    ranks, weights = election
    shuffled = np.array(data.draw(st.permutations(range(len(ranks)))))
    before, after = compare(ranks, weights), compare(ranks[shuffled], weights[shuffled])
    for old, new in zip(results(before), results(after), strict=True):
        np.testing.assert_array_equal(old, new)


@st.composite
def elections_with_clones(draw, candidates=(2, 5)):
    """An election without gaps, a candidate, and the same election with clones of it added.

    On every ballot the clones are next to the candidate, in any order, level or not.
    """
    count, voters = draw(st.integers(*candidates)), draw(st.integers(1, 5))
    strict = st.permutations(range(count)).map(lambda order: [float(rank) for rank in order])
    tied = st.lists(st.sampled_from([0.0, 1.0, 2.0]), min_size=count, max_size=count)
    ranks = np.array([draw(st.one_of(strict, tied)) for _ in range(voters)])
    weights = np.array(draw(st.lists(st.integers(0, 5), min_size=voters, max_size=voters)))
    cloned = draw(st.integers(0, count - 1))
    clones = draw(st.integers(1, 3))
    beside = np.array(
        [
            draw(st.lists(st.sampled_from([-0.2, 0.0, 0.2, 0.4]), min_size=clones, max_size=clones))
            for _ in range(voters)
        ]
    )
    # If another candidate is level with it, the only place next to it is level.
    alone = (ranks == ranks[:, [cloned]]).sum(axis=1, keepdims=True) == 1
    with_clones = np.hstack([ranks, ranks[:, [cloned]] + np.where(alone, beside, 0.0)])
    return ranks, weights, cloned, with_clones


@given(elections_with_clones())
def test_schulze_clones_of_one_do_not_make_or_unmake_a_winner(election):
    # Independence of clones: Schulze (2011), section 4.6 (number from memory).
    ranks, weights, cloned, with_clones = election
    before = schulze(pairwise(ranks, weights)).winners
    after = schulze(pairwise(with_clones, weights)).winners
    count = ranks.shape[1]
    rest = np.arange(count) != cloned
    np.testing.assert_array_equal(after[:count][rest], before[rest])
    assert (after[cloned] or after[count:].any()) == before[cloned]


@given(elections_with_clones(candidates=(3, 5)))
def test_schulze_one_that_nobody_puts_first_is_not_made_to_win_by_clones_of_another(election):
    ranks, weights, cloned, with_clones = election
    count = ranks.shape[1]
    never_first = (ranks > ranks.min(axis=1, keepdims=True)).all(axis=0)
    never_first[cloned] = False
    hopeless = never_first & ~schulze(pairwise(ranks, weights)).winners
    assert not schulze(pairwise(with_clones, weights)).winners[:count][hopeless].any()


@pytest.mark.parametrize(
    ("without", "with_clones", "weights", "winner", "fooled"),
    [
        # Three put 0 above 1, two the other way round. A clone just below 1 gives it points.
        ([[1, 2], [2, 1]], [[1, 2, 3], [3, 1, 2]], [3, 2], 0, 1),
        # Nobody puts 0 first. Two clones just below 2 give it points from both sides.
        ([[2, 3, 4, 1], [2, 1, 3, 4]], [[2, 3, 4, 1, 5, 6], [2, 1, 3, 6, 4, 5]], [3, 1], 3, 0),
    ],
)
def test_clones_that_fool_borda_do_not_fool_schulze(without, with_clones, weights, winner, fooled):
    before, after = compare(without, weights), compare(with_clones, weights)
    assert np.flatnonzero(before.borda.winners).tolist() == [winner]
    assert np.flatnonzero(after.borda.winners).tolist() == [fooled]
    assert np.flatnonzero(after.schulze.winners).tolist() == [winner]
    assert not after.same_winners


@given(elections())
def test_borda_hands_out_the_weight_times_the_number_of_pairs(election):
    ranks, weights = election
    count = ranks.shape[1]
    points = compare(ranks, weights).borda.score.sum()
    assert points == pytest.approx(weights.sum() * count * (count - 1) / 2)


@given(elections())
def test_kemeny_against_trying_every_order(election):
    prefer = pairwise(*election)
    count = len(prefer)
    orders = np.array(list(permutations(range(count))))
    upheld = np.array([np.triu(prefer[np.ix_(order, order)], 1).sum() for order in orders])
    best = orders[np.isclose(upheld, upheld.max(), rtol=0, atol=1e-7)]
    found = kemeny(prefer)
    assert found.agreement == pytest.approx(upheld.max())
    assert found.best_orders == len(best)
    np.testing.assert_allclose(found.score, 1 + np.argsort(best, axis=1).mean(axis=0))
    assert set(np.flatnonzero(found.winners)) == set(best[:, 0])


@given(elections())
def test_a_candidate_that_beats_each_other_one_wins_by_schulze_and_kemeny(election):
    found = compare(*election)
    assume(found.condorcet_winner is not None)
    for method in (found.schulze, found.kemeny):
        assert np.flatnonzero(method.winners).tolist() == [found.condorcet_winner]


@given(elections())
def test_turning_every_ballot_round_turns_kemeny_and_borda_round(election):
    ranks, weights = election
    found, turned = compare(ranks, weights), compare(-ranks, weights)
    count = ranks.shape[1]
    np.testing.assert_allclose(turned.kemeny.score, count + 1 - found.kemeny.score)
    np.testing.assert_allclose(
        turned.borda.score, (count - 1) * weights.sum() - found.borda.score, atol=1e-6
    )


def test_shares_that_sum_to_the_same_are_a_tie():
    # Three sixths against one half: equal but for the last bit of a float.
    ranks = [[1, 2], [1, 2], [1, 2], [2, 1]]
    found = compare(ranks, SHARES)
    assert found.schulze.rank.tolist() == found.borda.rank.tolist() == [1, 1]
    assert found.kemeny.best_orders == 2


def test_everybody_ties_everything():
    found = compare(np.ones((3, 4)))
    assert found.same_winners
    assert found.kemeny.best_orders == 24
    assert found.schulze.winners.all()
    assert found.contested == ()


def test_schulze_ranks_the_undecided_pairs_by_who_is_above_them():
    # 0 ties 1 and 2; 1 beats 2. Nobody is above 0 or 1.
    assert schulze(pairwise([[1, 2, 3], [3, 1, 2]])).rank.tolist() == [1, 1, 3]


def test_no_ballot_at_all_leaves_everybody_level():
    found = compare(np.empty((0, 3)))
    assert found.schulze.rank.tolist() == [1, 1, 1]
    assert found.kemeny.best_orders == 6


def test_kemeny_is_exact_up_to_its_limit_and_absent_beyond():
    ranks = np.arange(KEMENY_LIMIT + 1.0)[None, :]
    assert compare(ranks[:, :-1]).kemeny.rank.tolist() == list(range(1, KEMENY_LIMIT + 1))
    assert compare(ranks).kemeny is None
    with pytest.raises(ValueError, match="at most 10 candidates, got 11"):
        kemeny(pairwise(ranks))


def test_tiers():
    np.testing.assert_array_equal(ranks_from_tiers([[2], [0, 3]], 5), [2, NAN, 1, 2, NAN])


@pytest.mark.parametrize(
    ("tiers", "said"), [([[0], [0]], "named twice"), ([[3]], "no candidate 3"), ([[-1]], "-1")]
)
def test_wrong_tiers_are_refused(tiers, said):
    with pytest.raises(ValueError, match=said):
        ranks_from_tiers(tiers, 3)


@pytest.mark.parametrize(
    ("ranks", "weights", "said"),
    [
        ([1, 2], None, "ranks must have shape"),
        (np.empty((2, 0)), None, "ranks must have shape"),
        ([[1, 2]], [1, 1], r"weights must have shape \(1,\)"),
        ([[1, 2]], [-1], "not negative"),
        ([[1, 2]], [NAN], "finite"),
    ],
)
def test_wrong_ballots_are_refused(ranks, weights, said):
    with pytest.raises(ValueError, match=said):
        compare(ranks, weights)
