"""The joint posterior of the graders of one list, with levels and care classes summed out exactly.

Given leans and spreads, boats are independent, and given her care class so are the levels of a
boat: the probability of all reports is a sum over levels and care classes, computed for many sets
of graders at once. It shows what graders of the same boats have in common (all graders harsh, or
all boats poor?), which a fit with independent graders cannot.

Leans and log-spreads stay within the graders' grid: they are handled as free values, whose prior is
standard normal (`graders.GraderPriors.values`).

K sets of graders, R graders, P = 2R free values (all leans, then all log-spreads), S cells that
somebody reported on, B boats with such a cell, C = 3 care classes.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.estimates import FLOOR, NOTHING
from apps.reckoning.grader_priors import GraderPriors
from apps.reckoning.levels import LEVELS
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports, prior_levels
from apps.reckoning.reporting import log_report
from apps.reckoning.tally import Tally

CELLS_AT_ONCE: Final = 65_536  # cells times sets of graders: 8 MB of levels by care class
STEP: Final = 1e-3  # step of the numerical derivatives, in free values
MOST_STEPS: Final = 8
SETTLED: Final = 0.02  # gain in log density below which the mode is near enough, nats
# If the reports seem to leave less than this share of the prior's information in a direction, the
# density is not close to normal there. Own choice, no source.
LEAST_KNOWN: Final = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class GraderWeights:
    """Levels and care classes given some sets of graders.

    log_evidence: (K,) of all reports, nats. care: (C, K, B). level_given_care: (C, 5, K, S).
    """

    log_evidence: Floats
    care: Floats
    level_given_care: Floats


class Marginal:
    """The posterior. `prior`: (I, 3, J, 5), P(level | care class) of the whole fleet.

    care_prior: (I, 3), prior P(care class) of each boat.
    """

    def __init__(
        self,
        fleet: Fleet,
        priors: CheckpointPriors,
        reports: Reports,
        grader_priors: GraderPriors,
        care_prior: Floats,
    ) -> None:
        self.prior, self.care_prior = prior_levels(fleet, priors), care_prior
        checkpoints = fleet.applies.shape[1]
        cells, cell = np.unique(
            reports.boat * checkpoints + reports.checkpoint, return_inverse=True
        )
        self.boat, self.checkpoint = np.divmod(cells, checkpoints)  # (S,) rising
        self.boats, self._starts, self._place = np.unique(
            self.boat, return_index=True, return_inverse=True
        )
        here = np.maximum(self.prior[self.boat, :, self.checkpoint], FLOOR)  # (S, C, 5)
        self._here = np.ascontiguousarray(here.transpose(1, 2, 0))
        self._widenings, widening = np.unique(reports.widening, return_inverse=True)
        self._tally = Tally.of(
            cell=cell,
            code=(reports.grader * len(self._widenings) + widening) * LEVELS + reports.level,
            cells=len(cells),
            codes=len(grader_priors) * len(self._widenings) * LEVELS,
        )
        self._graders = grader_priors

    def log_density(self, free: Floats) -> Floats:
        """(K,) log posterior density, up to a constant, at (K, P) free values."""
        evidence = np.concatenate([part.log_evidence for _, part in self.weigh(free)])
        return np.asarray(evidence - 0.5 * np.sum(free**2, axis=1))

    def gradient(self, free: Floats) -> Floats:
        """(K, P), of the log density."""
        gradient = -free
        for of, part in self.weigh(free):
            care = part.care[:, :, self._place]
            level = np.einsum("cks,ctks->tks", care, part.level_given_care)
            counts = self._tally.expected_counts(level.reshape(-1, level.shape[-1]))
            by_set = counts.reshape(len(counts), LEVELS, -1).transpose(2, 0, 1)  # (K, codes, 5)
            by_code = by_set * self._scores(free[of])  # (2, K, codes, 5)
            by_grader = by_code.reshape(2, len(by_set), len(self._graders), -1).sum(axis=-1)
            gradient[of] += np.concatenate(by_grader, axis=1)
        return gradient

    def mode(self, free: Floats) -> tuple[Floats, Floats]:
        """Most likely free values (P,), and (P, P) axes of the normal distribution there.

        free: (P,) to start from. The covariance is axes @ axes.T; the columns are uncorrelated
        directions, the most uncertain first. Newton's method with halved steps.
        """
        part = np.array([[1.0], [0.5], [0.25], [0.1], [0.0]])
        for _ in range(MOST_STEPS):
            axes = self._axes(free)
            step = axes @ (axes.T @ self.gradient(free[None])[0])
            tried = free + part * step
            density = self.log_density(tried)
            free = tried[density.argmax()]
            if density.max() - density[-1] < SETTLED:
                return free, axes
        return free, self._axes(free)

    def weigh(self, free: Floats) -> Iterator[tuple[slice, GraderWeights]]:
        """Levels and care classes given (K, P) free values, a few sets of graders at a time."""
        run = max(1, CELLS_AT_ONCE // len(self.boat))
        for start in range(0, len(free), run):
            yield slice(start, start + run), self._weighed(self._table(free[start : start + run]))

    def _weighed(self, table: Floats) -> GraderWeights:
        """table: (K, codes, 5), log P(report | level)."""
        by_code = table.transpose(1, 2, 0).reshape(table.shape[1], -1)
        evidence = self._tally.evidence(by_code).reshape(LEVELS, len(table), -1)
        peak = evidence.max(axis=0)
        likelihood = np.exp(np.maximum(evidence - peak, NOTHING))
        level = self._here[:, :, None, :] * likelihood
        normaliser = level.sum(axis=1)  # (C, K, S)
        level /= normaliser[:, None]
        log_joint = np.add.reduceat(np.log(normaliser), self._starts, axis=2)
        log_joint += np.log(np.maximum(self.care_prior[self.boats], FLOOR)).T[:, None]
        best = log_joint.max(axis=0)
        care = np.exp(np.maximum(log_joint - best, NOTHING))
        total = care.sum(axis=0)
        log_evidence = (best + np.log(total)).sum(axis=1) + peak.sum(axis=1)
        return GraderWeights(log_evidence, care / total, level)

    def _table(self, free: Floats) -> Floats:
        values = self._graders.values(free.reshape(len(free), 2, -1))
        lean, log_spread = values.transpose(1, 0, 2)
        sd = np.exp(log_spread)[:, :, None] * self._widenings
        by_chance = self._graders.slip[:, None], self._graders.praise[:, None]
        return log_report(lean[:, :, None], sd, *by_chance).reshape(len(free), -1, LEVELS)

    def _scores(self, free: Floats) -> Floats:
        """(2, K, codes, 5): derivatives of log P(report | level) by its grader's free values."""
        moved = []
        for parameter in np.repeat(np.eye(2), len(self._graders), axis=1) * STEP:
            moved.append(self._table(free + parameter) - self._table(free - parameter))
        return np.stack(moved) / (2 * STEP)

    def _axes(self, free: Floats) -> Floats:
        """See `mode`."""
        steps = STEP * np.eye(len(free))
        gradient = self.gradient(np.concatenate([free + steps, free - steps]))
        ahead, behind = np.split(gradient, 2)
        curvature = (behind - ahead) / (2 * STEP)
        known, direction = np.linalg.eigh((curvature + curvature.T) / 2)
        # Choose the sign of each direction by the larger lean and spread: the order of graders must
        # make
        # no difference.
        direction *= np.where(direction.sum(axis=0) < 0, -1.0, 1.0)
        return np.asarray(direction / np.sqrt(np.maximum(known, LEAST_KNOWN)))
