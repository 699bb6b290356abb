"""Belief about the true level of every checkpoint on every boat, given everybody's reports.

Two things are unknown beside the levels: how well each boat has been cared for, which makes bad
news come together on one boat, and how each grader leans and spreads. All three are worked out at
once by mean-field variational inference (Jordan et al., 1999, Machine Learning 37, 183-233), with
an exact step for the care class and the levels of a boat. Model: model.md 1. The grader part is
Dawid & Skene (1979) with two parameters a grader in place of a free matrix (`confusion`).

A checkpoint nobody looked at has no report. Its belief is what the boat's inferred care class
leaves of the prior: it is never read as sound.

Indices: boat i of I, checkpoint j of J, level t of 5, care class c of 3, grader r of R, report n
of N.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import logsumexp

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.convergence import ascend
from apps.reckoning.graders import GraderModel, GraderPosterior, GraderPriors
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.reckoning.tally import Tally

# Care classes, their prior and their shift in levels (times a checkpoint's `care`): model.md 1.
CARE_CLASSES: Final = ("cherished", "ordinary", "neglected")
CARE_PRIOR: Final = (0.25, 0.50, 0.25)
CARE_SHIFT: Final = (-0.6, 0.0, 0.8)
REFERENCE_AGE: Final = 30.0  # years; mu is the mean level at this age; model.md 1
# No level is ruled out beforehand. Far below any prior that matters, and far enough above the
# smallest double that a boat's evidence never vanishes.
FLOOR: Final = 1e-100
MOST_WIDENINGS: Final = 64


@dataclass(frozen=True, slots=True, eq=False)
class CheckpointPriors:
    """Levels to expect of each checkpoint before looking. All (J,), in levels.

    mu: mean at 30 years and ordinary care. age: rise per decade. care: share of the care class's
    shift that shows here. sd: spread of boats alike in age and care, positive.
    """

    mu: Floats
    age: Floats
    care: Floats
    sd: Floats

    def __post_init__(self) -> None:
        for name in self.__slots__:
            _check(getattr(self, name).shape == self.mu.shape, name, "one value a checkpoint")
            _check(np.isfinite(getattr(self, name)), name, "a number")
        _check(self.sd > 0, "sd", "positive")


@dataclass(frozen=True, slots=True, eq=False)
class Fleet:
    """What is known of the boats before anybody looked.

    part_age: (I, J) years, since the renewal where the part has one, else the boat's age.
    applies: (I, J), whether the checkpoint applies to the boat.
    """

    part_age: Floats
    applies: Bools

    def __post_init__(self) -> None:
        _check(self.part_age.shape == self.applies.shape, "part_age", "of the shape of applies")
        _check(np.isfinite(self.part_age) | ~self.applies, "part_age", "a number of years")


@dataclass(frozen=True, slots=True, eq=False)
class Reports:
    """What was reported; one entry a report, all (N,). 'Could not look' is no report.

    level: 0..4. widening: factor on the grader's spread by how sure the report was
    (`graders.WIDENING`): positive, a few distinct values.
    """

    boat: Ints
    checkpoint: Ints
    grader: Ints
    level: Ints
    widening: Floats

    def __post_init__(self) -> None:
        for name in self.__slots__:
            _check(getattr(self, name).shape == (len(self.level),), name, "one value a report")
        _check((self.level >= 0) & (self.level < LEVELS), "level", "from 0 to 4")
        _check(np.isfinite(self.widening) & (self.widening > 0), "widening", "positive")

    def __len__(self) -> int:
        return len(self.level)


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """What the reports add up to.

    care: (I, 3), P(care class | all). level_given_care: (I, 3, J, 5), P(level | care class, all).
    level: (I, J, 5), P(level | all). Zeros where a checkpoint does not apply. Given the care
    class, the levels of a boat are independent. bound: (rounds,), evidence bound in nats after
    each round, never decreasing. converged: False when the rounds ran out.
    """

    care: Floats
    level_given_care: Floats
    level: Floats
    graders: GraderPosterior
    rounds: int
    converged: bool
    bound: Floats


def prior_levels(fleet: Fleet, priors: CheckpointPriors) -> Floats:
    """(I, 3, J, 5): P(level | care class) before anybody looked; zeros where it does not apply."""
    boat, checkpoint = np.nonzero(fleet.applies)
    prior = np.zeros((len(fleet.applies), len(CARE_CLASSES), fleet.applies.shape[1], LEVELS))
    prior[boat, :, checkpoint] = _prior_of_cells(fleet, priors, boat, checkpoint)
    return prior


def fit(
    fleet: Fleet,
    priors: CheckpointPriors,
    reports: Reports,
    grader_priors: GraderPriors,
    *,
    care_prior: tuple[float, ...] | Floats = CARE_PRIOR,
    tolerance: float = 1e-6,
    max_rounds: int = 200,
    calibrate: bool = True,
) -> Belief:
    """Fit levels, care classes and graders to the reports of one list (or one club).

    Stops when no probability moved by more than `tolerance`, or after `max_rounds`. With
    `calibrate=False` the graders stay at their priors. Deterministic; the order of reports,
    graders and boats makes no difference beyond rounding.

    Raises ValueError, naming the field and the first bad entry, for a report outside the fleet
    or the graders, or on a checkpoint that does not apply to its boat.
    """
    cells = SeenCells(fleet, reports, len(grader_priors))
    model = GraderModel(grader_priors, cells.widenings)
    prior = cells.prior(fleet, priors)
    log_care = np.log(np.maximum(checked_care_prior(care_prior), FLOOR))

    def expectation(log_weights: Floats) -> "Round":
        return cells.expectation(prior, log_care, model, log_weights)

    def improve(previous: "Round") -> "Round":
        counts = cells.tally.expected_counts(previous.level)
        return expectation(model.update(counts))

    ascent = ascend(
        expectation(model.log_prior),
        improve,
        tolerance=tolerance,
        max_rounds=max_rounds if calibrate else 1,
    )
    care, level_given_care = cells.spread_out(fleet, priors, log_care, ascent.state)
    return Belief(
        care=care,
        level_given_care=level_given_care,
        level=np.einsum("ic,icjt->ijt", care, level_given_care),
        graders=model.posterior(ascent.state.log_weights, cells.tally, ascent.state.level),
        rounds=ascent.rounds,
        converged=ascent.converged or not calibrate,
        bound=ascent.bound,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """One round of the fit, over the B boats and S cells with a report.

    care: (3, B). level: (5, S). likelihood: (5, S), of the reports, scaled to at most 1.
    log_weights: (R, 375), the graders this round was worked out with. bound: nats.
    """

    care: Floats
    level: Floats
    likelihood: Floats
    log_weights: Floats
    bound: float

    def moved_from(self, previous: "Round", /) -> float:
        return max(
            float(np.abs(self.care - previous.care).max(initial=0.0)),
            float(np.abs(self.level - previous.level).max(initial=0.0)),
        )


class SeenCells:
    """The (boat, checkpoint) cells that have a report, boat by boat.

    Rounds run over these only: a cell without a report has no say in the care class.
    """

    def __init__(self, fleet: Fleet, reports: Reports, graders: int) -> None:
        checkpoints = fleet.applies.shape[1]
        _check_inside(fleet, reports, graders)
        self.widenings, widening = np.unique(reports.widening, return_inverse=True)
        _check(
            len(self.widenings) <= MOST_WIDENINGS,
            "widening",
            f"at most {MOST_WIDENINGS} distinct values",
        )
        codes = (reports.grader * len(self.widenings) + widening) * LEVELS + reports.level
        seen, cell = np.unique(reports.boat * checkpoints + reports.checkpoint, return_inverse=True)
        self.boat, self.checkpoint = np.divmod(seen, checkpoints) if len(seen) else (seen, seen)
        self.tally = Tally(
            cell=cell,
            code=codes,
            cells=len(seen),
            codes=graders * len(self.widenings) * LEVELS,
        )
        self.boats, self._first = np.unique(self.boat, return_index=True)
        self._row = np.searchsorted(self.boats, self.boat)  # cell -> row of its boat in a Round

    def prior(self, fleet: Fleet, priors: CheckpointPriors) -> Floats:
        """(3, 5, S): P(level | care class) of the seen cells, floored."""
        prior = _prior_of_cells(fleet, priors, self.boat, self.checkpoint)
        return np.ascontiguousarray(np.maximum(prior, FLOOR).transpose(1, 2, 0))

    def expectation(
        self, prior: Floats, log_care: Floats, model: GraderModel, log_weights: Floats
    ) -> Round:
        """Exact step for care classes and levels, given the graders; and the bound there.

        Given its care class a boat's levels are independent, so the weight of a class is the
        product over cells of their normalisers. Sums of logs throughout: a boat with hundreds of
        reports would underflow otherwise.
        """
        evidence = self.tally.evidence(model.table(log_weights))
        peak = evidence.max(axis=0)
        likelihood = np.exp(evidence - peak)
        normaliser = np.einsum("cts,ts->cs", prior, likelihood)
        log_joint = log_care[:, None] + self._sum_by_boat(np.log(normaliser))
        log_evidence = logsumexp(log_joint, axis=0)
        care = np.exp(log_joint - log_evidence)
        level = np.einsum("cs,cts->ts", care[:, self._row] / normaliser, prior)
        level *= likelihood
        bound = float(log_evidence.sum() + peak.sum()) - model.divergence(log_weights)
        return Round(care, level, likelihood, log_weights, bound)

    def joint(self, prior: Floats, last: Round) -> Floats:
        """(3, 5, S): P(care class, level | all) of the seen cells after a round."""
        weight = prior * last.likelihood
        share = last.care[:, self._row] / weight.sum(axis=1)
        return np.asarray(weight * share[:, None])

    def spread_out(
        self, fleet: Fleet, priors: CheckpointPriors, log_care: Floats, last: Round
    ) -> tuple[Floats, Floats]:
        """(I, 3) and (I, 3, J, 5): the last round's belief, with what nobody looked at."""
        care = np.tile(np.exp(log_care - logsumexp(log_care)), (len(fleet.applies), 1))
        care[self.boats] = last.care.T
        level = prior_levels(fleet, priors)
        prior = np.maximum(level[self.boat, :, self.checkpoint], FLOOR)
        joint = prior * last.likelihood.T[:, None, :]
        level[self.boat, :, self.checkpoint] = joint / joint.sum(axis=-1, keepdims=True)
        return care, level

    def _sum_by_boat(self, by_cell: Floats) -> Floats:
        """(c, S) -> (c, B)."""
        if not len(self.boats):
            return np.zeros((len(by_cell), 0))
        return np.add.reduceat(by_cell, self._first, axis=1)


def checked_care_prior(care_prior: tuple[float, ...] | Floats) -> Floats:
    """(3,) array. Raises ValueError unless it is a distribution."""
    prior = np.asarray(care_prior, dtype=np.float64)
    _check(prior.shape == (len(CARE_CLASSES),), "care_prior", "one probability a care class")
    _check(
        (prior >= 0) & (abs(prior.sum() - 1.0) < 1e-9), "care_prior", "probabilities that sum to 1"
    )
    return prior


def expected_levels(fleet: Fleet, priors: CheckpointPriors, boat: Ints, checkpoint: Ints) -> Floats:
    """(cells, 3): mean of the variable behind the level, for each cell and care class."""
    decades = (fleet.part_age[boat, checkpoint] - REFERENCE_AGE) / 10.0
    ordinary = priors.mu[checkpoint] + priors.age[checkpoint] * decades
    return np.asarray(ordinary[:, None] + priors.care[checkpoint, None] * np.array(CARE_SHIFT))


def _prior_of_cells(fleet: Fleet, priors: CheckpointPriors, boat: Ints, checkpoint: Ints) -> Floats:
    """(cells, 3, 5)."""
    _check(
        len(priors.mu) == fleet.applies.shape[1], "mu", "one value for each checkpoint of the fleet"
    )
    mean = expected_levels(fleet, priors, boat, checkpoint)
    return discretised_normal(mean, priors.sd[checkpoint, None])


def _check_inside(fleet: Fleet, reports: Reports, graders: int) -> None:
    boats, checkpoints = fleet.applies.shape
    for name, end in (("boat", boats), ("checkpoint", checkpoints), ("grader", graders)):
        index = getattr(reports, name)
        _check((index >= 0) & (index < end), name, f"from 0 to {end - 1}")
    _check(
        fleet.applies[reports.boat, reports.checkpoint],
        "checkpoint",
        "one that applies to the boat",
    )


def _check(holds: Bools | bool, field: str, must_be: str) -> None:
    """Raise ValueError naming the field and the first entry for which it does not hold."""
    if np.all(holds):
        return
    entry = "".join(f"[{int(at)}]" for at in np.argwhere(~np.asarray(holds))[0])
    raise ValueError(f"{field}{entry}: must be {must_be}")
