"""Order of a list's candidates, and how members' orders compare with it (model.md section 4).

B members (buyers), I candidates. Everything ranks by the expected regretted utility E[U], shape
(B, I), in the list's currency; nan where a member put no valuation on a candidate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.bootstrap import Estimate, Resampling
from apps.reckoning.concordance import kendall_w
from apps.reckoning.ordering import places, shared_ranks
from apps.reckoning.voting import Comparison, compare


@dataclass(frozen=True, slots=True, eq=False)
class MemberView:
    """How one member's order differs from the group's.

    `distance` is the share of pairs that the member orders the other way (a tie against an order
    counts half), 0 the same order, 1 the reverse; None if the member orders fewer than two
    candidates. `places` (I,) is how many places lower (positive) or higher (negative) the member
    has each candidate, nan if the member does not order it; `furthest` are the candidates with the
    greatest difference either way, empty if there is none.
    """

    distance: float | None
    places: Floats
    furthest: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class GroupStanding:
    """The group's order by all three methods, and how far the members agree.

    `member_ranks` (B, I). `concordance` is Kendall's W over the candidates that every voting member
    ranks, with an interval; it has no value with fewer than two such members or candidates, or
    where everybody ties everything.
    `members` has one view for each member, against Schulze's order.
    """

    member_ranks: Floats
    methods: Comparison
    concordance: Estimate
    members: tuple[MemberView, ...]


def member_orders(
    expected_utility: Floats, error: Floats, within: Bools, ballots: Floats | None = None
) -> Floats:
    """Return ranks (B, I) of each member's order: own E[U] within own musts, or the ballot.

    error: (I,) standard error of E[U], the same for every worth; level candidates rank equal.
    Candidates that break a member's must come last, tied: no price makes up for them. A candidate
    without E[U] is nan, no opinion. A row of `ballots` (B, I) that ranks anything replaces that
    member's whole order; a row of nan leaves it.

    Raises ValueError if the shapes differ.
    """
    if within.shape != expected_utility.shape:
        raise ValueError(f"within must have shape {expected_utility.shape}, got {within.shape}")
    if ballots is not None and ballots.shape != expected_utility.shape:
        raise ValueError(f"ballots must have shape {expected_utility.shape}, got {ballots.shape}")
    figures = np.where(within, expected_utility, -np.inf)
    ranks = np.array([places(row, error) for row in figures]).reshape(figures.shape)
    if ballots is None:
        return ranks
    voted: Bools = ~np.all(np.isnan(ballots), axis=1, keepdims=True)
    return np.where(voted, ballots, ranks)


def group_standing(
    member_ranks: Floats,
    weights: ArrayLike | None = None,
    resampling: Resampling | None = None,
) -> GroupStanding:
    """Return the group's order from its members' (B, I), weighted by share or one each.

    Raises ValueError as `voting.compare` does.
    """
    methods = compare(member_ranks, weights)
    group = shared_ranks(methods.schulze.rank)
    missing: Bools = np.isnan(member_ranks)
    voting = ~np.all(missing, axis=1)
    ranked_by_all = ~np.any(missing[voting], axis=0)
    return GroupStanding(
        member_ranks=member_ranks,
        methods=methods,
        concordance=kendall_w(member_ranks[voting][:, ranked_by_all], resampling),
        members=tuple(_member_view(ranks, group) for ranks in member_ranks),
    )


def _member_view(ranks: Floats, group: Floats) -> MemberView:
    places = np.full(len(ranks), np.nan)
    ranked = np.flatnonzero(~np.isnan(ranks))
    if len(ranked) < 2:
        return MemberView(distance=None, places=places, furthest=())
    # Both orders on the candidates that the member ranks; tied ones share their middle place.
    own, others = shared_ranks(ranks[ranked]), shared_ranks(group[ranked])
    places[ranked] = own - others
    own_sign = np.sign(own[:, None] - own[None, :])
    others_sign = np.sign(others[:, None] - others[None, :])
    pairs = len(ranked) * (len(ranked) - 1)
    most = np.abs(own - others).max()
    furthest = ranked[np.abs(own - others) == most] if most > 0 else ranked[:0]
    return MemberView(
        # |difference of signs| is 2 for opposite orders and 1 for a tie against an order.
        distance=float(np.abs(own_sign - others_sign).sum() / 2 / pairs),
        places=places,
        furthest=tuple(int(i) for i in furthest),
    )
