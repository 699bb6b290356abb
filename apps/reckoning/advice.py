"""Which candidates to strike off and why, and which are beaten (model.md section 4).

B members (buyers), I candidates, J checkpoints, D outcomes. E[U] is the expected regretted utility,
(B, I), in the list's currency; nan where a member put no valuation on a candidate.

This only advises; people strike off. It is a screening, not a survey: a professional's finding, not
this, settles an open doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.musts import Must, check_musts, within_musts
from apps.reckoning.reasons import (
    Advice,
    CostsMoreReason,
    DominatedReason,
    MustBroken,
    OpenDoubtReason,
    OverBudgetReason,
    ToBeJudgedReason,
    WalkAwayReason,
)
from apps.reckoning.simulation import Singles
from apps.reckoning.utility import overrun_penalty

# model.md section 4: a walk-away finding counts when it is more likely true than not.
WALK_AWAY_PROBABILITY = 0.5
# A professional must judge a doubt of this level, or of the walk-away level if there is one, before
# anybody buys (model.md, agreed 7).
DOUBT_LEVEL = 4
# The doubt is a reason to strike off if the walk-away level has this probability, or this many
# people reported it independently (model.md, agreed 7).
DOUBT_PROBABILITY = 1 / 3
DOUBT_PEOPLE = 2
# A candidate that costs more than she is worth with at least this probability may not be worth
# buying. Own choice, from simulated seasons, as are the next two
# (`tests/bench/bench_decisions.py`).
COSTS_MORE_PROBABILITY = 0.60
# From this chance of being the group's best choice on, money alone is no reason to strike her off.
IN_THE_RUNNING = 0.08
# How likely another candidate must be better for every buyer. In simulated seasons, one that was
# better on average and almost surely cheaper was truly better in barely half of the cases.
SURE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class AdviceInputs:
    """The inputs of strike-off advice.

    `chance_better`: that the column candidate is better than the row one for every buyer
    (`chance_better`); `chance_costs_more`: that U is below 0 for the group; `chance_best`: that she
    is the best choice for the group (`chance_best`); nan where there is no valuation. `level` (I,
    J, 5) is the belief; `looked` (I, J) whether anybody could look; `walk_away_level` (J,) from the
    catalogue, -1 where the checkpoint has none; `doubt_level` (I, J) the highest doubt that no
    professional's finding or document has cleared, -1 for none; `doubt_seen_by` (I, J) how many
    people reported the walk-away level, or failed where there is none; `grave` (J,) whether the
    checkpoint is structural, safety or flooding, and not a small item that a receipt settles.
    """

    expected_utility: Floats  # (B, I), money
    chance_better: Floats  # (I, I)
    chance_costs_more: Floats  # (I,)
    chance_best: Floats  # (I,)
    chance_within_budget: Floats  # (I,)
    required_confidence: float  # of staying within the budget, from 0.5 to below 1
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
            "chance_better": (candidates, candidates),
            "chance_costs_more": (candidates,),
            "chance_best": (candidates,),
            "chance_within_budget": (candidates,),
            "level": (candidates, checkpoints, 5),
            "looked": (candidates, checkpoints),
            "walk_away_level": (checkpoints,),
            "doubt_level": (candidates, checkpoints),
            "doubt_seen_by": (candidates, checkpoints),
        }
        for name, shape in expected.items():
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name} must have shape {shape}, got {getattr(self, name).shape}")
        # Below one half, 1 - confidence would exceed the chance that the group accepts.
        if not 0.5 <= self.required_confidence < 1.0:
            raise ValueError(
                f"required_confidence must be from 0.5 to below 1, got {self.required_confidence!r}"
            )
        check_musts(self.musts, members, candidates)

    def walk_away_reached(self, i: int) -> Floats:
        """(J,): belief that a checkpoint has reached its walk-away level; nan where it has none.

        Probabilities are sums of floats: rounding must not keep a belief of exactly one half out.
        """
        threshold = self.walk_away_level
        reached = (self.level[i] * (np.arange(5) >= threshold[:, None])).sum(axis=1)
        return np.where(threshold >= 0, np.round(reached, 12), np.nan)


def chance_better(valuation: Floats, regretted: Floats | Singles) -> Floats:
    """Return (I, I): the chance that the column candidate is better than the row one for everybody.

    Better: U is higher in the same outcome, for every buyer. valuation: (B, I), nan where a buyer
    gave none. regretted: (I, D) all-in plus lambda times the overrun, of the same D outcomes for
    all. nan if a buyer's valuation of either is not known, or nobody gave any; buyers without any
    valuation are left out.
    """
    asked = valuation[~np.all(np.isnan(valuation), axis=1)]
    chance = np.full((valuation.shape[1], valuation.shape[1]), np.nan)
    if len(asked) == 0:
        return chance
    # How much more than the other each may cost and still be better for the most demanding buyer.
    margin = (asked[:, None, :] - asked[:, :, None]).min(axis=0)  # (I, I), column over row
    known = ~np.isnan(margin) & ~np.isnan(regretted).any(axis=1)
    for i, row in enumerate(known):
        chance[i, row] = (regretted[row] - regretted[i] < margin[i, row, None]).mean(axis=1)
    return chance


def chance_best(valuation: Floats, regretted: Floats | Singles, in_play: Bools) -> Floats:
    """Return (I,): the chance that each candidate is the best choice for the group.

    Best: in the same outcome U is above 0 (buying none) and above that of every other candidate.
    valuation: (I,) to the group, nan where it is not known. regretted: (I, D), see `chance_better`.
    in_play: (I,) whether she may still be bought. A candidate that may not, or whose U is not
    known, is no rival; nan if her own U is not known.
    """
    utility = valuation[:, None] - regretted
    known = ~np.isnan(utility).any(axis=1)
    rivals = np.where((known & in_play)[:, None], utility, 0.0)
    none = np.zeros((1, utility.shape[1]))
    # The best before each and after each, buying none included.
    before = np.maximum.accumulate(np.concatenate([none, rivals]))[:-1]
    after = np.maximum.accumulate(np.concatenate([none, rivals[::-1]]))[-2::-1]
    better = (utility > np.maximum(before, after)).mean(axis=1)
    return np.asarray(np.where(known, better, np.nan))


def dominance(expected_utility: Floats, within: Bools, better: Floats) -> Bools:
    """Return (I, I): whether the row candidate is beaten by the column one.

    Beaten means: the other has the higher E[U] for every buyer, is better for every buyer with a
    probability of at least `SURE` (better: (I, I), see `chance_better`), and breaks no must.
    An unknown E[U] beats nothing and is not beaten; buyers without any valuation are left out.
    """
    asked = expected_utility[~np.all(np.isnan(expected_utility), axis=1)]
    if len(asked) == 0:
        return np.zeros(better.shape, dtype=np.bool_)
    ahead: Bools = np.all(asked[:, None, :] > asked[:, :, None], axis=0)
    beaten: Bools = ahead & (np.round(better - SURE, 12) >= 0) & np.all(within, axis=0)
    return beaten


def strike_off_advice(evidence: AdviceInputs) -> tuple[tuple[Advice, ...], ...]:
    """Return for each candidate the reasons to strike it off, with the numbers behind them.

    The reasons come in a fixed order: broken musts, walk-away findings, open doubts, the budget,
    the valuation, dominance.
    """
    candidates = range(len(evidence.chance_costs_more))
    return tuple(
        (
            *_musts_broken(evidence, i),
            *_walk_away_findings(evidence, i),
            *_open_doubts(evidence, i),
            *_over_budget(evidence, i),
            *_costs_more(evidence, i),
            *dominated,
        )
        for i, dominated in zip(candidates, _dominated(evidence), strict=True)
    )


def _musts_broken(evidence: AdviceInputs, i: int) -> list[Advice]:
    return [
        MustBroken(must.want, must.member, float(must.value[i]), must.least, must.most)
        for must in evidence.musts
        if must.broken[i]
    ]


def to_be_judged(evidence: AdviceInputs) -> tuple[tuple[ToBeJudgedReason, ...], ...]:
    """Return for each candidate the doubts that a professional must judge before anybody buys her.

    Grave doubts that are already a reason to strike off are not included.
    """
    return tuple(
        tuple(
            ToBeJudgedReason(
                checkpoint=int(j),
                level=int(evidence.doubt_level[i, j]),
                probability=None if np.isnan(reached[j]) else float(reached[j]),
                seen_by=int(evidence.doubt_seen_by[i, j]),
            )
            for j in np.flatnonzero(_grave_doubts(evidence, i) & ~_agreed(evidence, i, reached))
        )
        for i in range(len(evidence.chance_costs_more))
        for reached in [evidence.walk_away_reached(i)]
    )


def _walk_away_findings(evidence: AdviceInputs, i: int) -> list[Advice]:
    reached = evidence.walk_away_reached(i)
    return [
        WalkAwayReason(int(j), int(evidence.walk_away_level[j]), float(reached[j]))
        for j in np.flatnonzero(_found(evidence, i))
    ]


def _found(evidence: AdviceInputs, i: int) -> Bools:
    """(J,): walk-away findings, without those that are also open doubts: one reason is enough."""
    reached = evidence.walk_away_reached(i)
    return np.asarray((reached >= WALK_AWAY_PROBABILITY) & evidence.looked[i])


def _open_doubts(evidence: AdviceInputs, i: int) -> list[Advice]:
    reached = evidence.walk_away_reached(i)
    return [
        OpenDoubtReason(
            checkpoint=int(j),
            level=int(evidence.doubt_level[i, j]),
            probability=float(reached[j]),
            seen_by=int(evidence.doubt_seen_by[i, j]),
        )
        for j in np.flatnonzero(
            _grave_doubts(evidence, i) & _agreed(evidence, i, reached) & ~_found(evidence, i)
        )
    ]


def _grave_doubts(evidence: AdviceInputs, i: int) -> Bools:
    """(J,): doubts at the walk-away level, or failed where there is none."""
    threshold = evidence.walk_away_level
    grave = evidence.doubt_level[i] >= np.where(threshold >= 0, threshold, DOUBT_LEVEL)
    return np.asarray(grave & evidence.grave)


def _agreed(evidence: AdviceInputs, i: int, reached: Floats) -> Bools:
    """(J,): whether a doubt at the walk-away level is believed, or was raised by several people.

    A checkpoint without a walk-away level has none.
    """
    believed = np.round(reached - DOUBT_PROBABILITY, 12) >= 0
    several = evidence.doubt_seen_by[i] >= DOUBT_PEOPLE
    return np.asarray((evidence.walk_away_level >= 0) & (believed | several))


def _over_budget(evidence: AdviceInputs, i: int) -> list[Advice]:
    chance = float(evidence.chance_within_budget[i])
    least = 1.0 - evidence.required_confidence
    # 1 - 0.8 is slightly above 0.2 in floats, and a chance of exactly 0.2 must pass.
    over = round(chance - least, 12) < 0
    return [OverBudgetReason(chance, least)] if over and not _in_the_running(evidence, i) else []


def _costs_more(evidence: AdviceInputs, i: int) -> list[Advice]:
    chance = float(evidence.chance_costs_more[i])
    counts = 1.0 + overrun_penalty(evidence.required_confidence)
    likely = round(chance - COSTS_MORE_PROBABILITY, 12) >= 0
    if not likely or _in_the_running(evidence, i):
        return []
    return [CostsMoreReason(chance, float(evidence.chance_best[i]), counts)]


def _in_the_running(evidence: AdviceInputs, i: int) -> bool:
    """Whether she may well be the best choice; then money alone is no reason to strike her off.

    False where no valuation is known: then only the costs count.
    """
    return round(float(evidence.chance_best[i]) - IN_THE_RUNNING, 12) >= 0


def _dominated(evidence: AdviceInputs) -> list[list[Advice]]:
    utility = evidence.expected_utility
    within = within_musts(evidence.musts, *utility.shape)
    beaten = dominance(utility, within, evidence.chance_better)
    return [_beaten_by(evidence, i, np.flatnonzero(row)) for i, row in enumerate(beaten)]


def _beaten_by(evidence: AdviceInputs, i: int, others: Ints) -> list[Advice]:
    """One reason, however many candidates beat her."""
    if not len(others):
        return []
    utility = evidence.expected_utility
    least_gain = np.nanmin(utility[:, others] - utility[:, [i]], axis=0)
    by, *also = (int(k) for k in others[np.argsort(-least_gain, kind="stable")])
    return [DominatedReason(by, float(evidence.chance_better[i, by]), tuple(also))]
