"""Belief about the true level of every checkpoint on every boat, given all reports.

Besides the levels, two things are unknown: how well each boat has been cared for, which makes bad
levels occur together on one boat, and the lean and spread of each grader. All three are fitted
together by mean-field variational inference (Jordan et al., 1999, Machine Learning 37, 183-233),
with an exact step for the care class and the levels of a boat. Model: model.md 1. The grader part
is Dawid & Skene (1979) with two parameters a grader in place of a free matrix (`confusion`).

A checkpoint nobody looked at has no report. Its belief is the prior given the boat's inferred care
class; it is never taken for sound.

Indices: boat i of I, checkpoint j of J, level t of 5, care class c of 3, grader r of R, report n
of N.

Two boats of 30 years, two checkpoints. Two people look at the first checkpoint of both boats and
find it sound on one and failed on the other. Nobody looks at the second checkpoint:

>>> import numpy as np
>>> from apps.reckoning.grader_priors import member_prior
>>> from apps.reckoning.levels import mean_level
>>> from apps.reckoning.priors import CheckpointPriors, Fleet, Reports
>>> fleet = Fleet(part_age=np.full((2, 2), 30.0), applies=np.ones((2, 2), dtype=bool))
>>> priors = CheckpointPriors(*(np.full(2, value) for value in (1.2, 0.2, 1.0, 0.8)))
>>> reports = Reports(
...     boat=np.array([0, 0, 1, 1]),
...     checkpoint=np.array([0, 0, 0, 0]),
...     grader=np.array([0, 1, 0, 1]),
...     level=np.array([0, 0, 4, 4]),
...     widening=np.ones(4),
... )
>>> belief = fit(fleet, priors, reports, member_prior(2))
>>> belief.care.round(2)  # cherished, ordinary, neglected
array([[0.5 , 0.45, 0.04],
       [0.01, 0.2 , 0.79]])
>>> mean_level(belief.level).round(1)  # the second column is inferred
array([[0.1, 1. ],
       [3.5, 1.8]])
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.convergence import ascend
from apps.reckoning.estimates import FLOOR, BatchEstimate, batches
from apps.reckoning.grader_priors import GraderPriors
from apps.reckoning.graders import GraderDraws, GraderModel, GraderPosterior, GraderStep
from apps.reckoning.information import Inferred
from apps.reckoning.levels import LEVELS
from apps.reckoning.priors import (
    CARE_CLASSES,
    CARE_PRIOR,
    CheckpointPriors,
    Fleet,
    Reports,
    care_beforehand,
    check,
    check_inside,
    prior_levels,
)
from apps.reckoning.tally import Tally

MOST_WIDENINGS: Final = 64


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """The posterior given the reports.

    care: (I, 3), P(care class | all). level_given_care: (I, 3, J, 5), P(level | care class, all).
    level: (I, J, 5), P(level | all). Zeros where a checkpoint does not apply. Given the care
    class, the levels of a boat are independent; where the belief is mixed over draws of the
    graders (`mixture`), given class and draw. bound: (rounds,), evidence bound in nats after each
    round, never decreasing. converged: False if it stopped at the maximum number of rounds.
    """

    care: Floats
    level_given_care: Floats
    level: Floats
    graders: GraderPosterior | GraderDraws
    rounds: int
    converged: bool
    bound: Floats
    mixture: "Mixture | None" = None

    @property
    def components(self) -> tuple[Floats, Floats]:
        """(I, C), P(component), and (I, C, J, 5), P(level | component): the levels are independent.

        Components are the care classes; of a mixed belief, the care classes of each draw.
        """
        if self.mixture is None:
            return self.care, self.level_given_care
        boats, _, _, *cell = self.mixture.level_given_care.shape
        level = self.mixture.level_given_care.reshape(boats, -1, *cell)
        return self.mixture.care.reshape(boats, -1), level

    def of_checkpoints(self, count: int) -> "Belief":
        """The belief about the first checkpoints only."""
        mixture = self.mixture and replace(
            self.mixture, level_given_care=self.mixture.level_given_care[..., :count, :]
        )
        return replace(
            self,
            level_given_care=self.level_given_care[..., :count, :],
            level=self.level[:, :count],
            mixture=mixture,
        )

    def of_boat(self, boat: int) -> tuple[Floats, Floats]:
        """(K, 3), P(draw of the graders, care class), and (K, 3, J, 5), P(level | both)."""
        if self.mixture is None:
            return self.care[None, boat], self.level_given_care[None, boat]
        return self.mixture.care[boat], self.mixture.level_given_care[boat]


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """K beliefs, each given a draw of all graders.

    share: (K,), weight of each, summing to 1. care: (I, K, 3), P(draw, care class): sums to
    `share` over the classes. level_given_care: (I, K, 3, J, 5), P(level | draw, care class).
    """

    share: Floats
    care: Floats
    level_given_care: Floats

    def averaged(self) -> tuple[Floats, Floats]:
        """(I, 3), P(care class), and (I, 3, J, 5), P(level | care class)."""
        return averaged(self.care, self.level_given_care)


def averaged(care: Floats, level_given_care: Floats) -> tuple[Floats, Floats]:
    """Average over draws of the graders.

    care: (..., K, 3), P(draw, care class). level_given_care: (..., K, 3, J, 5). Returns (..., 3),
    P(care class), and (..., 3, J, 5), P(level | care class).
    """
    total = care.sum(axis=-2, keepdims=True)
    even = np.full_like(care, 1.0 / care.shape[-2])  # of an impossible class
    share = np.divide(care, total, out=even, where=total > 0)
    return total[..., 0, :], np.einsum("...kc,...kcjt->...cjt", share, level_given_care)


def fit(
    fleet: Fleet,
    priors: CheckpointPriors,
    reports: Reports,
    grader_priors: GraderPriors,
    *,
    care_prior: tuple[float, ...] | Floats = CARE_PRIOR,
    tolerance: float = 1e-6,
    max_rounds: int = 500,
    calibrate: bool = True,
) -> Belief:
    """Fit levels, care classes and graders to the reports of one list (or one club).

    Stops when no probability moved by more than `tolerance`, or after `max_rounds`. With
    `calibrate=False` the graders stay at their priors. Deterministic; the order of reports,
    graders and boats makes no difference beyond rounding.

    Raises ValueError, naming the field and the first bad entry, for a report outside the fleet
    or the graders, or on a checkpoint that does not apply to its boat.
    """
    looks = FleetReports(fleet, reports, grader_priors)
    prior = looks.prior(fleet, priors)
    care = care_beforehand(fleet, care_prior)

    def improve(previous: FitRound) -> FitRound:
        return looks.round(prior, care, looks.model.update(previous.counts))

    ascent = ascend(
        looks.round(prior, care, looks.model.start()),
        improve,
        tolerance=tolerance,
        max_rounds=max_rounds if calibrate else 1,
    )
    last = ascent.state
    care_belief, level_given_care = looks.spread_out(prior, care, last)
    level_given_care *= fleet.applies[:, None, :, None]
    return Belief(
        care=care_belief,
        level_given_care=level_given_care,
        level=np.einsum("ic,icjt->ijt", care_belief, level_given_care),
        graders=looks.model.posterior(
            last.graders, looks.inferred(prior, last) if calibrate else ()
        ),
        rounds=ascent.rounds,
        converged=ascent.converged or not calibrate,
        bound=ascent.bound,
    )


@dataclass(frozen=True, slots=True, eq=False)
class FitRound:
    """One round of the fit: every batch of boats, and the graders used for it.

    counts: (codes, 5), expected reports of each code at each true level.
    """

    estimates: tuple[BatchEstimate, ...]
    counts: Floats
    graders: GraderStep
    bound: float

    def settled(self, previous: "FitRound", tolerance: float, /) -> bool:
        """Whether no probability moved by more than the tolerance."""
        pairs = zip(self.estimates, previous.estimates, strict=True)
        return all(now.settled(before, tolerance) for now, before in pairs)


class FleetReports:
    """The reports about a fleet, arranged for the fit: in batches of boats, with their graders."""

    def __init__(self, fleet: Fleet, reports: Reports, grader_priors: GraderPriors) -> None:
        check_inside(fleet, reports, len(grader_priors))
        widenings, widening = np.unique(reports.widening, return_inverse=True)
        check(
            len(widenings) <= MOST_WIDENINGS, "widening", f"one of at most {MOST_WIDENINGS} values"
        )
        self.model = GraderModel(grader_priors, widenings)
        boats, checkpoints = fleet.applies.shape
        tally = Tally.of(
            cell=reports.boat * checkpoints + reports.checkpoint,
            code=(reports.grader * len(widenings) + widening) * LEVELS + reports.level,
            cells=boats * checkpoints,
            codes=self.model.codes,
        )
        self.batches = batches(tally, boats=boats, checkpoints=checkpoints)
        self._shape = boats, checkpoints

    def prior(
        self, fleet: Fleet, priors: CheckpointPriors, cells: Bools | None = None
    ) -> tuple[Floats, ...]:
        """(3, 5, S) for each batch: P(level | care class), floored.

        cells: (I, J), the cells that need it, all by default. Other cells, and those where a
        checkpoint does not apply, are uniform: without a report they have no effect.
        """
        by_batch = []
        for batch in self.batches:
            boats = fleet.part(batch.boats)
            needed = boats.applies if cells is None else boats.applies & cells[batch.boats]
            level = prior_levels(boats, priors, needed)
            prior = np.where(needed[:, None, :, None], level, 1.0 / LEVELS)
            cells_last = np.maximum(prior, FLOOR).transpose(1, 3, 0, 2)
            by_batch.append(cells_last.reshape(len(CARE_CLASSES), LEVELS, -1))
        return tuple(by_batch)

    def round(self, prior: tuple[Floats, ...], care_prior: Floats, graders: GraderStep) -> FitRound:
        """Levels and care classes of every boat given the graders, and the evidence bound there.

        care_prior: (3,) of every boat, or (I, 3).
        """
        estimates, counts = [], np.zeros((self.model.codes, LEVELS))
        by_boat = np.broadcast_to(care_prior, (self._shape[0], len(CARE_CLASSES)))
        for batch, of_batch in zip(self.batches, prior, strict=True):
            estimate = batch.estimate(of_batch, by_boat[batch.boats].T, graders.table)
            counts += batch.tally.expected_counts(estimate.level)
            estimates.append(estimate)
        evidence = sum(estimate.log_evidence for estimate in estimates)
        return FitRound(tuple(estimates), counts, graders, evidence - graders.divergence)

    def inferred(self, prior: tuple[Floats, ...], last: FitRound) -> Iterator[Inferred]:
        """Each batch's reports with the belief about their boats."""
        for batch, of_batch, estimate in zip(self.batches, prior, last.estimates, strict=True):
            level_given_care = batch.level_given_care(of_batch, last.graders.table)
            yield Inferred(batch.tally, estimate.care, level_given_care)

    def spread_out(
        self, prior: tuple[Floats, ...], care_prior: Floats, last: FitRound
    ) -> tuple[Floats, Floats]:
        """(I, 3), P(care class), and (I, 3, J, 5), P(level | care class), boats first."""
        boats, checkpoints = self._shape
        care = np.array(np.broadcast_to(care_prior, (boats, len(CARE_CLASSES))))
        level = np.empty((boats, len(CARE_CLASSES), checkpoints, LEVELS))
        for batch, of_batch, estimate in zip(self.batches, prior, last.estimates, strict=True):
            care[batch.boats] = estimate.care.T
            cells_last = batch.level_given_care(of_batch, last.graders.table)
            by_boat = cells_last.reshape(len(CARE_CLASSES), LEVELS, -1, checkpoints)
            level[batch.boats] = by_boat.transpose(2, 0, 3, 1)
        return care, level
