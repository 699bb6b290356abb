"""Schulze, Borda and Kemeny against published elections and an independent library's results."""

import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from apps.reckoning.voting import compare, kemeny, pairwise, path_strengths, ranks_from_tiers

DATA = Path(__file__).parent / "data"
# Citations stand in the file beside each election.
ELECTIONS = json.loads((DATA / "rank_aggregation.json").read_text())["examples"]
# Results of pref_voting 1.18.2, an independent implementation. They are stored because that library
# needs an older numpy than this project, so the two do not install together.
LIBRARY = json.loads((DATA / "voting_library_results.json").read_text())


def elections_with(key):
    return [pytest.param(e, id=e["id"]) for e in ELECTIONS if key in e]


def codes(election):
    return election.get("codes", "".join(election["candidates"]))


def read(election):
    """Ranks and weights of a published election whose ballots are strings of letters."""
    letters = codes(election)
    ranks = [
        ranks_from_tiers([[letters.index(c)] for c in order], len(letters))
        for order, _ in election["ballots"]
    ]
    return np.array(ranks), np.array([weight for _, weight in election["ballots"]])


def in_letters(election, rank):
    """The order as a string; only for a rank without ties."""
    assert sorted(rank) == list(range(1, len(rank) + 1))
    return "".join(codes(election)[i] for i in np.argsort(rank))


@pytest.mark.parametrize("election", elections_with("pairwise"))
def test_pairwise_matrix(election):
    assert pairwise(*read(election)).tolist() == election["pairwise"]


@pytest.mark.parametrize("election", elections_with("path_strengths"))
def test_schulze_path_strengths(election):
    assert path_strengths(pairwise(*read(election))).tolist() == election["path_strengths"]


@pytest.mark.parametrize("election", elections_with("schulze_order"))
def test_schulze_order(election):
    found = compare(*read(election)).schulze
    assert in_letters(election, found.rank) == election["schulze_order"]


@pytest.mark.parametrize("election", elections_with("kemeny"))
def test_kemeny_order_and_score(election):
    found = compare(*read(election)).kemeny
    assert in_letters(election, found.rank) == election["kemeny"]
    assert found.agreement == election["kemeny_score"]
    assert found.best_orders == 1


def test_kemeny_agrees_with_all_24_published_scores():
    # Wikipedia, Kemeny-Young method: the score of every order of the four cities.
    election = next(e for e in ELECTIONS if "all_scores" in e)
    prefer = pairwise(*read(election))
    for order, score in election["all_scores"].items():
        placed = [codes(election).index(letter) for letter in order]
        assert sum(prefer[a, b] for a, b in combinations(placed, 2)) == score
    assert kemeny(prefer).agreement == max(election["all_scores"].values())
    # With every preference turned round, the worst order becomes the best one.
    assert in_letters(election, kemeny(prefer.T).rank) == election["kemeny_lowest"]


@pytest.mark.parametrize("election", elections_with("borda"))
def test_borda_points(election):
    found = compare(*read(election)).borda
    assert dict(zip(codes(election), found.score, strict=True)) == election["borda"]


@pytest.mark.parametrize("election", elections_with("condorcet"))
def test_condorcet_winner(election):
    winner = compare(*read(election)).condorcet_winner
    assert (None if winner is None else codes(election)[winner]) == election["condorcet"]


def test_where_the_methods_differ_it_is_said():
    # Condorcet's 81 voters: A beats each other one, B leads on points (Condorcet 1785).
    election = next(e for e in ELECTIONS if e["id"] == "condorcet_81")
    found = compare(*read(election))
    assert not found.same_winners
    assert not found.same_order
    assert found.contested == ((0, 1),)


def test_borda_shares_the_points_of_tied_places():
    # The usual rule: a ballot A > B = C > D gives 3, 1.5, 1.5, 0. From memory.
    ranks = ranks_from_tiers([[0], [1, 2], [3]], 4)
    assert compare([ranks]).borda.score.tolist() == [3, 1.5, 1.5, 0]


@pytest.mark.parametrize("case", LIBRARY["strict"])
def test_strict_orders_against_the_library(case):
    count = len(case["borda"])
    ranks = [ranks_from_tiers([[c] for c in order], count) for order in case["orders"]]
    found = compare(ranks, case["weights"])
    assert_schulze_defeats(found.pairwise, case["schulze_defeats"])
    assert found.borda.score.tolist() == case["borda"]
    assert found.condorcet_winner == case["condorcet_winner"]

    best = np.array(case["kemeny_orders"])
    assert found.kemeny.best_orders == len(best)
    # An order's distance is the weight it does not uphold.
    pairs = sum(case["weights"]) * count * (count - 1) / 2
    assert pairs - found.kemeny.agreement == case["kemeny_distance"]
    assert set(np.flatnonzero(found.kemeny.winners)) == set(best[:, 0])
    mean_place = 1 + np.argsort(best, axis=1).mean(axis=0)
    np.testing.assert_allclose(found.kemeny.score, mean_place)


@pytest.mark.parametrize("case", LIBRARY["tied"])
def test_tied_orders_against_the_library(case):
    found = compare(case["ranks"], case["weights"])
    assert_schulze_defeats(found.pairwise, case["schulze_defeats"])
    # The library counts a candidate's weight above others less the weight below them.
    above_less_below = 2 * found.borda.score - (len(found.borda.score) - 1) * sum(case["weights"])
    np.testing.assert_allclose(above_less_below, case["borda_above_less_below"])


def assert_schulze_defeats(prefer, defeats):
    strength = path_strengths(prefer)
    assert np.argwhere(strength > strength.T).tolist() == defeats
