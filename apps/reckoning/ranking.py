"""Order of a list's candidates, who is beaten, which to strike off and why (model.md section 4).

B members (buyers), I candidates, J checkpoints. Everything ranks by the expected regretted utility
E[U], shape (B, I), in the list's currency; nan where a member put no worth on a candidate.

Advice is never action: people strike off. And a screening is not a survey: where an open doubt is
the reason, a professional's finding settles it, not this.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import rankdata

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.bootstrap import Estimate, Resampling
from apps.reckoning.concordance import kendall_w
from apps.reckoning.voting import Comparison, compare

# model.md section 4: a walk-away finding counts when it is more likely true than not.
WALK_AWAY_PROBABILITY = 0.5
# A doubt of this level, or of the walk-away level where there is one, is to be judged by a
# professional before anybody buys (model.md, agreed 7).
DOUBT_LEVEL = 4
# It is a reason to strike off where the walk-away level is believed with this probability, or so
# many people saw it on their own (model.md, agreed 7).
DOUBT_PROBABILITY = 1 / 3
DOUBT_PEOPLE = 2
# Utilities within half a unit of money round to the same figure and rank equal: finer differences
# are noise of the simulation.
MONEY_UNIT = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Must:
    """One member's must on all candidates: `least <= value <= most`.

    `want` is the caller's name for it, `member` the index of whose it is. `value` (I,) is nan where
    it is not known: the unknown breaks no must. A yes-or-no want is 0 or 1 with `least=1`.
    """

    want: str
    member: int
    value: Floats
    least: float = -np.inf
    most: float = np.inf

    @property
    def broken(self) -> Bools:
        """(I,): candidates known to break it."""
        return (self.value < self.least) | (self.value > self.most)


@dataclass(frozen=True, slots=True)
class MustBroken:
    """The candidate's `value` is below `least` or above `most` of a member's must."""

    code: ClassVar[str] = "must_broken"
    want: str
    member: int
    value: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class WalkAwayFinding:
    """A checkpoint that was looked at has reached its walk-away level with this probability."""

    code: ClassVar[str] = "walk_away_finding"
    checkpoint: int
    walk_away_level: int
    probability: float


@dataclass(frozen=True, slots=True)
class OpenDoubt:
    """A doubt at the walk-away level is believed, or several people raised it on their own.

    level: of the doubt. probability: of the walk-away level. seen_by: people who saw it so bad.
    """

    code: ClassVar[str] = "open_doubt"
    checkpoint: int
    level: int
    probability: float
    seen_by: int


@dataclass(frozen=True, slots=True)
class ToBeJudged:
    """A grave doubt that is no reason to strike off yet: a professional judges it before anybody
    buys.

    probability: of the walk-away level, None where the checkpoint has none.
    """

    code: ClassVar[str] = "to_be_judged"
    checkpoint: int
    level: int
    probability: float | None
    seen_by: int


@dataclass(frozen=True, slots=True)
class OverPot:
    """The chance of staying within the pot is below `least_chance` = 1 - required confidence."""

    code: ClassVar[str] = "over_pot"
    chance_within_pot: float
    least_chance: float


@dataclass(frozen=True, slots=True)
class Dominated:
    """Candidate `by` is better for every buyer, and dear at its dearest is cheaper than this one.

    `low_all_in` is this candidate's low estimate, `high_all_in_of_other` the other's high one, and
    `least_gain` the smallest gain in E[U] that any buyer would have from the other.
    """

    code: ClassVar[str] = "dominated"
    by: int
    low_all_in: float
    high_all_in_of_other: float
    least_gain: float


Advice = MustBroken | WalkAwayFinding | OpenDoubt | OverPot | Dominated


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All that strike-off advice rests on.

    `level` (I, J, 5) is the belief; `looked` (I, J) whether anybody could look; `walk_away_level`
    (J,) from the catalogue, -1 where the checkpoint has none; `doubt_level` (I, J) the highest
    doubt raised and not cleared by a professional's finding or a document, -1 for none;
    `doubt_seen_by` (I, J) how many people saw it at the walk-away level, or failed where there is
    none; `grave` (J,) whether the checkpoint is structural, safety or flooding, and no small thing
    that a receipt settles.
    """

    expected_utility: Floats  # (B, I), money
    low_all_in: Floats  # (I,), money, P10
    high_all_in: Floats  # (I,), money, P90
    chance_within_pot: Floats  # (I,)
    required_confidence: float  # of staying within the pot, from 0.5 to below 1
    musts: Sequence[Must]
    level: Floats
    looked: Bools
    walk_away_level: Ints
    doubt_level: Ints
    doubt_seen_by: Ints
    grave: Bools

    def __post_init__(self) -> None:
        members, candidates = self.expected_utility.shape
        checkpoints = len(self.grave)
        expected = {
            "low_all_in": (candidates,),
            "high_all_in": (candidates,),
            "chance_within_pot": (candidates,),
            "level": (candidates, checkpoints, 5),
            "looked": (candidates, checkpoints),
            "walk_away_level": (checkpoints,),
            "doubt_level": (candidates, checkpoints),
            "doubt_seen_by": (candidates, checkpoints),
        }
        for name, shape in expected.items():
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name} must have shape {shape}, got {getattr(self, name).shape}")
        # Below one half, 1 - confidence would exceed the chance that the group is content with.
        if not 0.5 <= self.required_confidence < 1.0:
            raise ValueError(
                f"required_confidence must be from 0.5 to below 1, got {self.required_confidence!r}"
            )
        _check_musts(self.musts, members, candidates)

    def walk_away_reached(self, i: int) -> Floats:
        """(J,): belief that a checkpoint has reached its walk-away level; nan where it has none.

        Probabilities are sums of floats: a belief of exactly one half must not miss by a last bit.
        """
        threshold = self.walk_away_level
        reached = (self.level[i] * (np.arange(5) >= threshold[:, None])).sum(axis=1)
        return np.where(threshold >= 0, np.round(reached, 12), np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class MemberView:
    """How one member's order stands to the group's.

    `distance` is the share of pairs that the member orders otherwise (a tie against an order counts
    half), 0 the same order, 1 the reverse; None if the member orders fewer than two candidates.
    `places` (I,) is how many places lower (positive) or higher (negative) the member has each
    candidate, nan where it says nothing of it; `furthest` are the candidates with the greatest
    difference either way, empty if there is none.
    """

    distance: float | None
    places: Floats
    furthest: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class GroupStanding:
    """The group's order, by all three methods, and how united the members are.

    `member_ranks` (B, I). `concordance` is Kendall's W over the candidates that every voting member
    ranks, with an interval; it has no value with fewer than two such members or candidates, or
    where everybody ties everything.
    `members` has one view for each member, against Schulze's order.
    """

    member_ranks: Floats
    methods: Comparison
    concordance: Estimate
    members: tuple[MemberView, ...]


def within_musts(musts: Sequence[Must], members: int, candidates: int) -> Bools:
    """Return (B, I): whether a candidate breaks none of a member's own musts.

    Raises ValueError naming the want whose member or shape is wrong.
    """
    _check_musts(musts, members, candidates)
    within = np.ones((members, candidates), dtype=np.bool_)
    for must in musts:
        within[must.member] &= ~must.broken
    return within


def member_orders(expected_utility: Floats, within: Bools, ballots: Floats | None = None) -> Floats:
    """Return ranks (B, I) of each member's order: own E[U] within own musts, or the ballot.

    Candidates that break a member's must come last, tied: no price makes up for them. A candidate
    without E[U] is nan, no opinion. A row of `ballots` (B, I) that ranks anything replaces that
    member's order as a whole; a row of nan leaves it.

    Raises ValueError if the shapes differ.
    """
    if within.shape != expected_utility.shape:
        raise ValueError(f"within must have shape {expected_utility.shape}, got {within.shape}")
    if ballots is not None and ballots.shape != expected_utility.shape:
        raise ValueError(f"ballots must have shape {expected_utility.shape}, got {ballots.shape}")
    # A larger key ranks later; -inf utility puts the broken ones behind every finite one.
    key = np.where(within, -np.round(expected_utility / MONEY_UNIT), np.inf)
    ranks: Floats = rankdata(key, method="min", axis=1, nan_policy="omit")
    if ballots is None:
        return ranks
    voted: Bools = ~np.all(np.isnan(ballots), axis=1, keepdims=True)
    return np.where(voted, ballots, ranks)


def dominance(
    expected_utility: Floats, within: Bools, low_all_in: Floats, high_all_in: Floats
) -> Bools:
    """Return (I, I): whether the row candidate is beaten by the column one.

    Beaten means: the other has the higher E[U] for every buyer, breaks nobody's must, and its high
    all-in estimate is below this one's low one. An unknown E[U] beats nothing and is not beaten;
    a buyer who put a worth on nothing is not asked.
    """
    silent: Bools = np.all(np.isnan(expected_utility), axis=1)
    asked = expected_utility[~silent]
    if len(asked) == 0:
        return np.zeros((len(low_all_in), len(low_all_in)), dtype=np.bool_)
    better: Bools = np.all(asked[:, None, :] > asked[:, :, None], axis=0)
    cheaper = high_all_in[None, :] < low_all_in[:, None]
    within_all: Bools = np.all(within, axis=0)
    beaten: Bools = better & cheaper & within_all
    return beaten


def strike_off_advice(evidence: Evidence) -> tuple[tuple[Advice, ...], ...]:
    """Return for each candidate the reasons to strike it off, with the numbers behind them.

    No reason, no advice. Reasons come in a fixed order: broken musts, walk-away findings, open
    doubts, the pot, dominance.
    """
    candidates = range(len(evidence.low_all_in))
    return tuple(
        (
            *_musts_broken(evidence, i),
            *_walk_away_findings(evidence, i),
            *_open_doubts(evidence, i),
            *_over_pot(evidence, i),
            *dominated,
        )
        for i, dominated in zip(candidates, _dominated(evidence), strict=True)
    )


def group_standing(
    member_ranks: Floats,
    weights: ArrayLike | None = None,
    resampling: Resampling | None = None,
) -> GroupStanding:
    """Return the group's order from its members' (B, I), weighted by share or one each.

    Raises ValueError as `voting.compare` does.
    """
    methods = compare(member_ranks, weights)
    group = rankdata(methods.schulze.rank)
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
    own, others = rankdata(ranks[ranked]), rankdata(group[ranked])
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


def _musts_broken(evidence: Evidence, i: int) -> list[Advice]:
    return [
        MustBroken(must.want, must.member, float(must.value[i]), must.least, must.most)
        for must in evidence.musts
        if must.broken[i]
    ]


def to_be_judged(evidence: Evidence) -> tuple[tuple[ToBeJudged, ...], ...]:
    """Return for each candidate what a professional must judge before anybody buys her.

    Grave doubts that are a reason to strike off are not among them.
    """
    return tuple(
        tuple(
            ToBeJudged(
                checkpoint=int(j),
                level=int(evidence.doubt_level[i, j]),
                probability=None if np.isnan(reached[j]) else float(reached[j]),
                seen_by=int(evidence.doubt_seen_by[i, j]),
            )
            for j in np.flatnonzero(_grave_doubts(evidence, i) & ~_agreed(evidence, i, reached))
        )
        for i in range(len(evidence.low_all_in))
        for reached in [evidence.walk_away_reached(i)]
    )


def _walk_away_findings(evidence: Evidence, i: int) -> list[Advice]:
    reached = evidence.walk_away_reached(i)
    return [
        WalkAwayFinding(int(j), int(evidence.walk_away_level[j]), float(reached[j]))
        for j in np.flatnonzero((reached >= WALK_AWAY_PROBABILITY) & evidence.looked[i])
    ]


def _open_doubts(evidence: Evidence, i: int) -> list[Advice]:
    reached = evidence.walk_away_reached(i)
    return [
        OpenDoubt(
            checkpoint=int(j),
            level=int(evidence.doubt_level[i, j]),
            probability=float(reached[j]),
            seen_by=int(evidence.doubt_seen_by[i, j]),
        )
        for j in np.flatnonzero(_grave_doubts(evidence, i) & _agreed(evidence, i, reached))
    ]


def _grave_doubts(evidence: Evidence, i: int) -> Bools:
    """(J,): doubts at the walk-away level, or failed where there is none."""
    threshold = evidence.walk_away_level
    grave = evidence.doubt_level[i] >= np.where(threshold >= 0, threshold, DOUBT_LEVEL)
    return np.asarray(grave & evidence.grave)


def _agreed(evidence: Evidence, i: int, reached: Floats) -> Bools:
    """(J,): whether a doubt at the walk-away level is believed, or was raised by several people.

    Where the checkpoint has no walk-away level, nobody walks away from it.
    """
    believed = np.round(reached - DOUBT_PROBABILITY, 12) >= 0
    several = evidence.doubt_seen_by[i] >= DOUBT_PEOPLE
    return np.asarray((evidence.walk_away_level >= 0) & (believed | several))


def _over_pot(evidence: Evidence, i: int) -> list[Advice]:
    chance = float(evidence.chance_within_pot[i])
    least = 1.0 - evidence.required_confidence
    # 1 - 0.8 is a last bit above 0.2, and a chance of 0.2 must pass.
    return [OverPot(chance, least)] if round(chance - least, 12) < 0 else []


def _dominated(evidence: Evidence) -> list[list[Advice]]:
    utility = evidence.expected_utility
    within = within_musts(evidence.musts, *utility.shape)
    beaten = dominance(utility, within, evidence.low_all_in, evidence.high_all_in)
    return [
        [
            Dominated(
                by=int(k),
                low_all_in=float(evidence.low_all_in[i]),
                high_all_in_of_other=float(evidence.high_all_in[k]),
                least_gain=float(np.nanmin(utility[:, k] - utility[:, i])),
            )
            for k in np.flatnonzero(row)
        ]
        for i, row in enumerate(beaten)
    ]


def _check_musts(musts: Sequence[Must], members: int, candidates: int) -> None:
    for must in musts:
        if not 0 <= must.member < members:
            raise ValueError(f"must {must.want!r}: no member {must.member}, there are {members}")
        if must.value.shape != (candidates,):
            raise ValueError(
                f"must {must.want!r}: value must have shape ({candidates},), got {must.value.shape}"
            )
