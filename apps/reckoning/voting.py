"""One order out of many: Schulze, Borda and exact Kemeny on weighted orders with ties.

Orders are ranks, shape (V, C): V orders of C candidates, 1 best, equal numbers for a tie, nan for a
candidate that is not in the order. Weights, shape (V,), are shares or ones. All methods start from
the pairwise matrix, shape (C, C): the weight that puts the row above the column.

The three methods answer different questions. Schulze: who is beaten by nobody, indirect defeats
included? Borda: who is high on average? Kemeny: which whole order is nearest to all of them? Where
they differ, the result depends on the method, and `compare` reports it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.ordering import least_ranks

Method = Literal["schulze", "borda", "kemeny"]

# Exact Kemeny takes time and memory with C 2^C (model.md section 4: exact up to 10).
KEMENY_LIMIT = 10

# Sums of shares such as three times 1/6 and one half differ by rounding; weights closer than
# this part of their total are the same.
SAME_WEIGHT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """The result of one method.

    `rank` (C,): 1 best, tied candidates share the number and the next one is skipped.
    `winners` (C,): candidates that may be called first; with Kemeny, first in any of the best
    orders. `score` (C,): Borda points; for Schulze the number of candidates that beat it, for
    Kemeny the mean place over all best orders; for both, less is better.
    """

    method: Method
    rank: Ints
    winners: Bools
    score: Floats


@dataclass(frozen=True, slots=True, eq=False)
class KemenyOrder(Order):
    """Adds `agreement`, the pairwise weight that the best order satisfies, and how many tie."""

    agreement: float
    best_orders: int


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """The three methods side by side.

    `kemeny` is None above `KEMENY_LIMIT` candidates. `condorcet_winner` is the index of the
    candidate that beats every other one, if any. `same_winners` and `same_order` say whether the
    methods agree; `contested` lists the pairs (a, b), a < b, that two methods order the opposite
    way.
    """

    pairwise: Floats
    schulze: Order
    borda: Order
    kemeny: KemenyOrder | None
    condorcet_winner: int | None
    same_winners: bool
    same_order: bool
    contested: tuple[tuple[int, int], ...]


def ranks_from_tiers(tiers: Sequence[Collection[int]], candidates: int) -> Floats:
    """Return the ranks (C,) of one ballot given as tiers, best first; the unnamed become nan.

    Raises ValueError if a candidate is named twice or does not exist.
    """
    ranks = np.full(candidates, np.nan)
    place = 1
    for tier in tiers:
        for candidate in tier:
            if not 0 <= candidate < candidates:
                raise ValueError(f"no candidate {candidate}: there are {candidates}")
            if not np.isnan(ranks[candidate]):
                raise ValueError(f"candidate {candidate} is named twice")
            ranks[candidate] = place
        place += len(tier)
    return ranks


def pairwise(ranks: ArrayLike, weights: ArrayLike | None = None) -> Floats:
    """Return (C, C): the weight of the orders that put the row candidate above the column one.

    Ties and missing ranks add to neither side. `weights` (V,) default to one each.
    Raises ValueError on wrong shapes and on weights that are negative or not finite.
    """
    ranks, weights = _checked(ranks, weights)
    above = ranks[:, :, None] < ranks[:, None, :]
    prefer: Floats = np.tensordot(weights, above.astype(np.float64), axes=1)
    return _snapped(prefer, float(weights.sum()))


def schulze(prefer: Floats) -> Order:
    """Rank by Schulze's method, strength of a link by winning votes.

    Source: Schulze, M. (2011), Social Choice and Welfare 36, 267-303. `prefer` as from `pairwise`.
    a is above b if the strongest path from a to b is stronger than any path back. This is
    transitive but leaves some pairs undecided, so candidates rank by how many are above them.
    """
    strength = path_strengths(prefer)
    beaten_by = (strength > strength.T).sum(axis=0)
    rank = least_ranks(beaten_by)
    return Order("schulze", rank, beaten_by == 0, beaten_by.astype(np.float64))


def path_strengths(prefer: Floats) -> Floats:
    """Return (C, C): the strongest path from row to column, a path as strong as its weakest link.

    Only won pairs are links (winning votes). Widest paths by Floyd and Warshall's recurrence.
    """
    strength = np.where(prefer > prefer.T, prefer, 0.0)
    for via in range(len(strength)):
        through = np.minimum(strength[:, via, None], strength[None, via, :])
        np.maximum(strength, through, out=strength)
    np.fill_diagonal(strength, 0.0)
    return strength


def borda(prefer: Floats, total_weight: float) -> Order:
    """Rank by Borda points: C - 1 for the first place down to 0; tied candidates share the mean.

    Source: Borda (1784), with the usual rule for ties. A pair that an order does not contain counts
    half for each side, so that every order gives its weight times C (C - 1) / 2 points.
    """
    points = (total_weight + prefer - prefer.T) / 2
    np.fill_diagonal(points, 0.0)
    # The weight of each pair is rounded: up to ten times SAME_WEIGHT for each candidate.
    score = _levelled(points.sum(axis=1), 10 * SAME_WEIGHT * total_weight * len(prefer))
    rank = least_ranks(-score)
    return Order("borda", rank, rank == 1, score)


def kemeny(prefer: Floats, total_weight: float | None = None) -> KemenyOrder:
    """Rank by the strict orders that satisfy the most pairwise weight, all of them at once.

    Source: Kemeny (1959), Daedalus 88, 577-591; Young (1988), American Political Science Review 82,
    1231-1244. Exact, by dynamic programming over the set of candidates already placed. If several
    orders are best, candidates are ranked by their mean place over all of them.
    total_weight: of all orders; by default, the most that any pair has.

    Raises ValueError above `KEMENY_LIMIT` candidates.
    """
    count = len(prefer)
    if count > KEMENY_LIMIT:
        raise ValueError(f"exact Kemeny takes at most {KEMENY_LIMIT} candidates, got {count}")
    bits = 1 << np.arange(count)
    sets = np.arange(1 << count)
    size = (sets[:, None] & bits > 0).sum(axis=1)
    layers = [sets[size == k] for k in range(count + 1)]

    # gain[S, c]: weight satisfied by placing c right after the set S, before all later ones.
    later = (sets[:, None] & bits == 0).astype(np.float64)
    gain = later @ prefer.T
    # The weight of each pair was rounded: by up to five times SAME_WEIGHT of the total, and two
    # orders may differ in all pairs.
    if total_weight is None:
        total_weight = float((prefer + prefer.T).max(initial=0.0))
    same = 10 * SAME_WEIGHT * max(total_weight, 1e-300) * count * (count - 1) / 2

    # best[S]: most weight satisfied when S takes the first places; ways[S]: in how many orders.
    best = np.zeros(1 << count)
    ways = np.ones(1 << count, dtype=np.int64)
    step_is_best = np.zeros((1 << count, count), dtype=bool)  # [S, c]: c may come last within S
    for layer in layers[1:]:
        contains = layer[:, None] & bits > 0
        before = np.where(contains, layer[:, None] ^ bits, 0)
        reached = np.where(contains, best[before] + gain[before, np.arange(count)], -np.inf)
        best[layer] = reached.max(axis=1)
        step_is_best[layer] = reached >= best[layer, None] - same
        ways[layer] = (ways[before] * step_is_best[layer]).sum(axis=1)

    # onward[S]: in how many ways a best order that starts with S can be completed.
    onward = np.zeros(1 << count, dtype=np.int64)
    onward[-1] = 1
    for layer in reversed(layers[1:]):
        for candidate in range(count):
            ends = layer[step_is_best[layer, candidate]]
            np.add.at(onward, ends ^ bits[candidate], onward[ends])

    # Each best order has one step that places c; the place is the size of the set before it.
    whole = ways[-1]
    passing = step_is_best * onward[:, None] * np.where(later == 0, ways[sets[:, None] ^ bits], 0)
    places = (passing * (size[:, None] - 1)).sum(axis=0)
    return KemenyOrder(
        "kemeny",
        rank=least_ranks(places),
        winners=passing[bits, np.arange(count)] > 0,
        score=1 + places / whole,
        agreement=float(best[-1]),
        best_orders=int(whole),
    )


def compare(ranks: ArrayLike, weights: ArrayLike | None = None) -> Comparison:
    """Return the three methods on the same orders, and where the choice of method matters.

    Raises ValueError as `pairwise` does, and if there is no candidate.
    """
    ranks, weights = _checked(ranks, weights)
    prefer = pairwise(ranks, weights)
    by_schulze = schulze(prefer)
    by_borda = borda(prefer, float(weights.sum()))
    by_kemeny = kemeny(prefer, float(weights.sum())) if len(prefer) <= KEMENY_LIMIT else None
    orders = [order for order in (by_schulze, by_borda, by_kemeny) if order is not None]

    above = np.array([order.rank[:, None] < order.rank[None, :] for order in orders])
    opposed = above.any(axis=0) & above.any(axis=0).T
    beats_all = (prefer > prefer.T).sum(axis=1) == len(prefer) - 1
    return Comparison(
        pairwise=prefer,
        schulze=by_schulze,
        borda=by_borda,
        kemeny=by_kemeny,
        condorcet_winner=int(beats_all.argmax()) if beats_all.any() else None,
        same_winners=all(np.array_equal(o.winners, by_schulze.winners) for o in orders),
        same_order=all(np.array_equal(o.rank, by_schulze.rank) for o in orders),
        contested=tuple((int(a), int(b)) for a, b in np.argwhere(np.triu(opposed))),
    )


def _checked(ranks: ArrayLike, weights: ArrayLike | None) -> tuple[Floats, Floats]:
    ranks = np.asarray(ranks, dtype=np.float64)
    if ranks.ndim != 2 or ranks.shape[1] == 0:
        raise ValueError(f"ranks must have shape (orders, candidates), got {ranks.shape}")
    weights = np.ones(len(ranks)) if weights is None else np.asarray(weights, dtype=np.float64)
    if weights.shape != (len(ranks),):
        raise ValueError(f"weights must have shape ({len(ranks)},), got {weights.shape}")
    if not np.all(np.isfinite(weights) & (weights >= 0.0)):
        raise ValueError("weights must be finite and not negative")
    return ranks, weights


def _snapped(values: Floats, scale: float) -> Floats:
    """Round away the rounding error of sums on this scale."""
    if scale <= 0.0:
        return values
    # Round the value's own error first: a sum of weights may be slightly off a power of ten.
    decimals = -math.ceil(round(math.log10(SAME_WEIGHT * scale), 6))
    rounded: Floats = np.round(values, decimals)
    return rounded


def _levelled(values: Floats, apart: float) -> Floats:
    """Give values that differ by no more than `apart` the same value.

    Rounding cannot do it: two sums that should be equal may be on either side of a half.
    """
    order = np.argsort(values, kind="stable")
    ascending = values[order]
    starts = np.r_[True, np.diff(ascending) > apart]
    level = np.empty_like(values)
    level[order] = ascending[starts][np.cumsum(starts) - 1]
    return level
