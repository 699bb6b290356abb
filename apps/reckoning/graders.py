"""Graders: the lean and spread with which each one reports.

A grader has a lean b (positive: reports worse than it is) and a spread s, both in levels. A report
k of a true level t has probability (1 - e) D(k; t + b, s f) + e / 5: D the discretised normal, f
the factor by which the report's sureness widens the spread, e the chance of a slip, a report that
has nothing to do with the truth (`reporting`; model.md 1). A seller may also praise whatever the
truth. The posterior of (b, s) is a
distribution on a fixed grid of leans and spreads, so that every step of the fit is a sum.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats
from apps.reckoning.estimates import NOTHING
from apps.reckoning.grader_priors import DRIFT, LEANS, SPREADS, GraderPriors
from apps.reckoning.information import Inferred, newton_step
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.reckoning.reporting import log_report, with_slips

_POINTS: Final = len(LEANS) * len(SPREADS)
_LEAN_AT: Final = np.repeat(LEANS, len(SPREADS))
_SPREAD_AT: Final = np.tile(SPREADS, len(LEANS))


@dataclass(frozen=True, slots=True, eq=False)
class GraderPosterior:
    """The posterior of each grader.

    weights: (R, 25, 15) over LEANS x SPREADS, each grader's summing to 1; used by the fit.
    lean_mean (positive: reports worse than it is), lean_sd: (R,) levels. log_spread_mean,
    log_spread_sd: (R,), natural log of levels. Show these four: they allow for what the weights
    leave out (`information`). slip, praise: (R,), as they were assumed.
    """

    weights: Floats
    lean_mean: Floats
    lean_sd: Floats
    log_spread_mean: Floats
    log_spread_sd: Floats
    slip: Floats
    praise: Floats

    def __len__(self) -> int:
        return len(self.lean_mean)

    @property
    def spread_mean(self) -> Floats:
        """(R,) levels."""
        return np.asarray(np.exp(self.log_spread_mean + self.log_spread_sd**2 / 2))

    def lean_interval(self, mass: float = 0.80) -> Floats:
        """(R, 2) levels, central, within the grid."""
        interval = _normal_interval(self.lean_mean, self.lean_sd, mass)
        return np.clip(interval, LEANS[0], LEANS[-1])

    def spread_interval(self, mass: float = 0.80) -> Floats:
        """(R, 2) levels, central, within the grid."""
        interval = np.exp(_normal_interval(self.log_spread_mean, self.log_spread_sd, mass))
        return np.clip(interval, SPREADS[0], SPREADS[-1])

    def as_priors(self) -> GraderPriors:
        """These graders as priors for another list: same centre, sd widened by DRIFT."""
        return GraderPriors(
            lean_mean=self.lean_mean,
            lean_sd=np.hypot(self.lean_sd, DRIFT),
            log_spread_mean=self.log_spread_mean,
            log_spread_sd=np.hypot(self.log_spread_sd, DRIFT),
            slip=self.slip,
            praise=self.praise,
        )

    def report_probabilities(self, widening: float = 1.0) -> Floats:
        """(R, 5, 5): P(grader r reports k | true level t), indexed r, t, k."""
        meant = discretised_normal(
            np.arange(LEVELS) + _LEAN_AT[:, None], _SPREAD_AT[:, None] * widening
        )
        flat = self.weights.reshape(len(self.weights), _POINTS)
        by_chance = self.slip[:, None, None], self.praise[:, None, None]
        return with_slips(np.einsum("rg,gtk->rtk", flat, meant), *by_chance)


@dataclass(frozen=True, slots=True, eq=False)
class GraderDraws:
    """The posterior of the graders of one list: K draws from their joint distribution.

    priors: their priors. share: (K,), summing to 1. free: (K, 2, R), the draws as free
    values (`GraderPriors.values`). lean, log_spread: (K, R), levels and natural log of levels.
    """

    priors: GraderPriors
    share: Floats
    free: Floats
    lean: Floats
    log_spread: Floats

    @classmethod
    def of(cls, priors: GraderPriors, share: Floats, free: Floats) -> "GraderDraws":
        """share: (K,). free: (K, 2, R)."""
        values = priors.values(free)
        return cls(priors, share, free, values[:, 0], values[:, 1])

    def __len__(self) -> int:
        return int(self.lean.shape[1])

    @property
    def lean_mean(self) -> Floats:
        """(R,) levels; positive: reports worse than it is."""
        return np.asarray(self.share @ self.lean)

    @property
    def log_spread_mean(self) -> Floats:
        """(R,) natural log of levels."""
        return np.asarray(self.share @ self.log_spread)

    @property
    def spread_mean(self) -> Floats:
        """(R,) levels."""
        return np.asarray(self.share @ np.exp(self.log_spread))

    def lean_interval(self, mass: float = 0.80) -> Floats:
        """(R, 2) levels, central, within the grid."""
        return np.asarray(self._interval(mass)[0])

    def spread_interval(self, mass: float = 0.80) -> Floats:
        """(R, 2) levels, central, within the grid."""
        return np.asarray(np.exp(self._interval(mass)[1]))

    def _interval(self, mass: float) -> Floats:
        """(2, R, 2): of leans and of log-spreads, normal as free values."""
        mean = np.einsum("k,kpr->pr", self.share, self.free)
        sd = np.sqrt(np.einsum("k,kpr->pr", self.share, (self.free - mean) ** 2))
        ends = np.moveaxis(_normal_interval(mean, sd, mass), -1, 0)
        return np.stack([self.priors.values(end) for end in ends], axis=-1)

    def report_probabilities(self, widening: float = 1.0) -> Floats:
        """(R, 5, 5): P(grader r reports k | true level t), indexed r, t, k."""
        return np.asarray(np.einsum("d,drtk->rtk", self.share, self.reports_by_draw(widening)))

    def reports_by_draw(self, widening: float = 1.0) -> Floats:
        """(K, R, 5, 5): the same given each draw."""
        sd = np.exp(self.log_spread)[..., None] * widening
        by_chance = self.priors.slip[:, None], self.priors.praise[:, None]
        report = np.exp(log_report(self.lean[..., None], sd, *by_chance))[:, :, 0]  # (K, R, k, t)
        return np.asarray(report.swapaxes(-1, -2))


@dataclass(frozen=True, slots=True, eq=False)
class GraderStep:
    """The graders in one round of a fit.

    weights: (R, 375), posterior on the grid. table: (codes, 5), E[log P(k | t, r)] under it for
    each code and true level. divergence: of the weights from the prior (Kullback-Leibler), nats.
    """

    weights: Floats
    table: Floats
    divergence: float


class GraderModel:
    """Lean and spread on the grid, as the fit uses them.

    A report's code is (grader * W + widening) * 5 + level; W is the number of distinct widenings.
    """

    def __init__(self, priors: GraderPriors, widenings: Floats) -> None:
        """widenings: (W,) distinct factors by which a report's sureness widens the spread."""
        self.codes = len(priors) * len(widenings) * LEVELS
        self._priors = priors
        self._widenings = widenings
        self._log_prior = _log_prior(priors)
        both = np.stack([priors.slip, priors.praise], axis=1)
        kinds, kind = np.unique(both, axis=0, return_inverse=True)
        self._kind = kind.reshape(len(priors))
        self._log_likelihood = [_log_likelihood(widenings, *by_chance) for by_chance in kinds]

    def start(self) -> GraderStep:
        """The graders at their prior."""
        return self.update(np.zeros((self.codes, LEVELS)))

    def update(self, counts: Floats) -> GraderStep:
        """The graders given (codes, 5) expected counts of their reports at each true level."""
        weights = self._log_prior.copy()  # logs first, then weights in place
        by_grader = counts.reshape(len(weights), len(self._widenings) * LEVELS**2)
        table = np.empty_like(by_grader)
        for n, log_likelihood in enumerate(self._log_likelihood):
            alike = self._kind == n
            weights[alike] += by_grader[alike] @ log_likelihood.T
        best = weights.max(axis=1, keepdims=True)
        weights -= best
        np.exp(np.maximum(weights, NOTHING, out=weights), out=weights)
        total = weights.sum(axis=1, keepdims=True)
        weights /= total
        for n, log_likelihood in enumerate(self._log_likelihood):
            alike = self._kind == n
            table[alike] = weights[alike] @ log_likelihood
        table = table.reshape(self.codes, LEVELS)
        # log(weight / prior) is the log-likelihood of the counts minus the log evidence
        evidence = float(np.sum(best + np.log(total)))
        return GraderStep(weights, table, float(np.vdot(counts, table)) - evidence)

    def posterior(self, last: GraderStep, inferred: Iterable[Inferred]) -> GraderPosterior:
        """The fitted graders, given the belief about the boats that they reported on.

        In simulation an 80% interval covers the lean 75 to 84% of the time and the spread 77 to
        85%; an interval taken from the weights would cover 59 to 70%.
        """
        priors, graders = self._priors, len(self._priors)
        weights = last.weights.reshape(graders, len(LEANS), len(SPREADS))
        lean = weights.sum(axis=2) @ LEANS
        log_spread = weights.sum(axis=1) @ np.log(SPREADS)
        grader = np.repeat(np.arange(graders), self.codes // max(graders, 1))
        precision = np.concatenate([priors.lean_sd, priors.log_spread_sd]) ** -2.0
        from_prior = np.concatenate([priors.lean_mean - lean, priors.log_spread_mean - log_spread])
        step, variance = newton_step(
            self._scores(lean, log_spread),
            np.stack([grader, graders + grader]),
            precision,
            precision * from_prior,
            inferred,
        )
        sd = np.sqrt(variance)
        return GraderPosterior(
            weights,
            # A step may lead beyond the grid, where the prior is 0.
            lean_mean=np.clip(lean + step[:graders], LEANS[0], LEANS[-1]),
            lean_sd=sd[:graders],
            log_spread_mean=np.clip(log_spread + step[graders:], *np.log(SPREADS[[0, -1]])),
            log_spread_sd=sd[graders:],
            slip=priors.slip,
            praise=priors.praise,
        )

    def _scores(self, lean: Floats, log_spread: Floats) -> tuple[Floats, Floats]:
        """Derivatives of log P(k | t) by lean and by log-spread at one point a grader.

        Two tables (codes, 5), by central differences.
        """
        step = 0.05  # levels, and natural log of levels; well inside a grid cell

        by_chance = self._priors.slip[:, None], self._priors.praise[:, None]

        def likelihood(b: Floats, log_s: Floats) -> Floats:
            sd = np.exp(log_s)[:, None] * self._widenings
            return log_report(b[:, None], sd, *by_chance).reshape(self.codes, LEVELS)

        return (
            (likelihood(lean + step, log_spread) - likelihood(lean - step, log_spread))
            / (2 * step),
            (likelihood(lean, log_spread + step) - likelihood(lean, log_spread - step))
            / (2 * step),
        )


def _log_prior(priors: GraderPriors) -> Floats:
    """(R, 375), each row normalised over the grid."""
    lean = (_LEAN_AT - priors.lean_mean[:, None]) / priors.lean_sd[:, None]
    log_spread = np.log(_SPREAD_AT) - priors.log_spread_mean[:, None]
    log_density = -0.5 * (lean**2 + (log_spread / priors.log_spread_sd[:, None]) ** 2)
    return np.asarray(log_density - scipy.special.logsumexp(log_density, axis=1, keepdims=True))


def _log_likelihood(widenings: Floats, slip: float, praise: float) -> Floats:
    """(375, W * 5 * 5): log P(k | t; b, s f) at each grid point, ordered widening, k, t."""
    sd = _SPREAD_AT[:, None] * widenings
    return log_report(_LEAN_AT[:, None], sd, slip, praise).reshape(_POINTS, -1)


def _normal_interval(mean: Floats, sd: Floats, mass: float) -> Floats:
    """(..., 2) central interval of a normal."""
    return np.asarray(
        mean[..., None] + sd[..., None] * scipy.special.ndtri([(1.0 - mass) / 2, (1.0 + mass) / 2])
    )
