"""Graders: how much worse or better than it is each one reports, and how steadily.

A grader has a lean b (positive: reports worse than it is) and a spread s, both in levels. A report
k of a true level t has probability D(k; t + b, s f), D the discretised normal and f how much the
report's sureness widens the spread (model.md 1). What is known of (b, s) is a distribution on a
fixed grid of leans and spreads, so that no step of the fit needs more than sums.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import logsumexp, rel_entr

from apps.reckoning.arrays import Floats
from apps.reckoning.levels import LEVELS, discretised_normal

# The grid, the priors and the widenings: model.md 1.
LEANS: Final = np.linspace(-1.5, 1.5, 25)
SPREADS: Final = np.geomspace(0.2, 1.8, 15)
WIDENING: Final = {"sure": 1.0, "fairly": 1.3, "guess": 2.0}
# What a person's lean and log-spread may wander from one list to the next. Own choice, no source;
# it also keeps a well-known grader's prior wider than a step of the grid.
DRIFT: Final = 0.15

_POINTS: Final = len(LEANS) * len(SPREADS)
_LEAN_AT: Final = np.repeat(LEANS, len(SPREADS))
_SPREAD_AT: Final = np.tile(SPREADS, len(LEANS))


@dataclass(frozen=True, slots=True, eq=False)
class GraderPriors:
    """What is assumed of each grader beforehand: b ~ N(mean, sd^2), ln s ~ N(mean, sd^2).

    All (R,), in levels and in natural log of levels. Raises ValueError where shapes differ or a
    standard deviation is not positive.
    """

    lean_mean: Floats
    lean_sd: Floats
    log_spread_mean: Floats
    log_spread_sd: Floats

    def __post_init__(self) -> None:
        for name in self.__slots__:
            if getattr(self, name).shape != (len(self.lean_mean),):
                raise ValueError(f"{name}: need one value for each grader")
            if name.endswith("_sd") and not np.all(getattr(self, name) > 0):
                raise ValueError(f"{name}: must be positive")

    def __len__(self) -> int:
        return len(self.lean_mean)

    @classmethod
    def joined(cls, parts: Sequence["GraderPriors"]) -> "GraderPriors":
        """The priors of several people after one another, in the order given."""
        return cls(*(np.concatenate([getattr(p, name) for p in parts]) for name in cls.__slots__))


def member_prior(count: int = 1) -> GraderPriors:
    """Anybody who looks: b ~ N(0, 0.5^2), ln s ~ N(ln 0.6, 0.35^2); `count` of them."""
    return _same_prior(count, lean_sd=0.5, spread=0.6, log_spread_sd=0.35)


def surveyor_prior(count: int = 1) -> GraderPriors:
    """A surveyor, or a quote that names a level: b ~ N(0, 0.15^2), ln s ~ N(ln 0.3, 0.25^2)."""
    return _same_prior(count, lean_sd=0.15, spread=0.3, log_spread_sd=0.25)


def _same_prior(count: int, *, lean_sd: float, spread: float, log_spread_sd: float) -> GraderPriors:
    ones = np.ones(count)
    return GraderPriors(0.0 * ones, lean_sd * ones, np.log(spread) * ones, log_spread_sd * ones)


@dataclass(frozen=True, slots=True, eq=False)
class GraderPosterior:
    """What is known of each grader. weights: (R, 25, 15) over LEANS x SPREADS, each summing to 1.

    A weight stands for the whole cell round its grid point (log-spread for spreads), so a spread
    or an interval never claims to be finer than the grid.
    """

    weights: Floats

    @property
    def lean_mean(self) -> Floats:
        """(R,) levels; positive: reports worse than it is."""
        return self._leans @ LEANS

    @property
    def lean_sd(self) -> Floats:
        """(R,) levels."""
        return _grid_sd(self._leans, LEANS)

    def lean_interval(self, mass: float = 0.80) -> Floats:
        """(R, 2) levels, central."""
        return _grid_interval(self._leans, LEANS, mass)

    @property
    def spread_mean(self) -> Floats:
        """(R,) levels."""
        return self._spreads @ SPREADS

    @property
    def spread_sd(self) -> Floats:
        """(R,) levels."""
        return _grid_sd(self._spreads, SPREADS)

    def spread_interval(self, mass: float = 0.80) -> Floats:
        """(R, 2) levels, central."""
        return np.exp(_grid_interval(self._spreads, np.log(SPREADS), mass))

    def as_priors(self) -> GraderPriors:
        """These graders as known ones on another list: same centre, sd widened by DRIFT."""
        log_spreads = np.log(SPREADS)
        return GraderPriors(
            lean_mean=self.lean_mean,
            lean_sd=np.hypot(self.lean_sd, DRIFT),
            log_spread_mean=self._spreads @ log_spreads,
            log_spread_sd=np.hypot(_grid_sd(self._spreads, log_spreads), DRIFT),
        )

    def expected_report(self, widening: float = 1.0) -> Floats:
        """(R, 5): the level each grader reports on average where the true one is 0, 1, ... 4.

        Not simply t + b: a scale has ends, and nobody can report worse than 4.
        """
        report = np.exp(_log_likelihood(np.array([widening]))).reshape(_POINTS, LEVELS, LEVELS)
        reported = np.einsum("gkt,k->gt", report, np.arange(LEVELS, dtype=float))
        return np.asarray(self._flat @ reported, dtype=np.float64)

    @property
    def _flat(self) -> Floats:
        return self.weights.reshape(len(self.weights), _POINTS)

    @property
    def _leans(self) -> Floats:
        return np.asarray(self.weights.sum(axis=2))

    @property
    def _spreads(self) -> Floats:
        return np.asarray(self.weights.sum(axis=1))


class GraderModel:
    """Lean and spread on the grid, as the fit needs them.

    A report's code is (grader * W + widening) * 5 + level, W the number of distinct widenings.
    """

    def __init__(self, priors: GraderPriors, widenings: Floats) -> None:
        """widenings: (W,) distinct factors by which a report's sureness widens the spread."""
        self.codes = len(priors) * len(widenings) * LEVELS
        self.log_prior = _log_prior(priors)
        self._log_likelihood = _log_likelihood(widenings)

    def table(self, log_weights: Floats) -> Floats:
        """(codes, 5): E[log P(k | t, r)] for each code and true level, given (R, 375)."""
        return (np.exp(log_weights) @ self._log_likelihood).reshape(self.codes, LEVELS)

    def update(self, counts: Floats) -> Floats:
        """(R, 375): log posterior on the grid, given (codes, 5) expected counts."""
        graders = len(self.log_prior)
        log_joint = self.log_prior + counts.reshape(graders, -1) @ self._log_likelihood.T
        return log_joint - logsumexp(log_joint, axis=1, keepdims=True)

    def divergence(self, log_weights: Floats) -> float:
        """Kullback-Leibler divergence of the graders' posterior from their prior, in nats."""
        return float(rel_entr(np.exp(log_weights), np.exp(self.log_prior)).sum())

    def posterior(self, log_weights: Floats) -> GraderPosterior:
        """The same weights, to be read by people."""
        return GraderPosterior(np.exp(log_weights).reshape(-1, len(LEANS), len(SPREADS)))


def _log_prior(priors: GraderPriors) -> Floats:
    """(R, 375), each row normalised over the grid."""
    lean = (_LEAN_AT - priors.lean_mean[:, None]) / priors.lean_sd[:, None]
    log_spread = np.log(_SPREAD_AT) - priors.log_spread_mean[:, None]
    log_density = -0.5 * (lean**2 + (log_spread / priors.log_spread_sd[:, None]) ** 2)
    return log_density - logsumexp(log_density, axis=1, keepdims=True)


def _log_likelihood(widenings: Floats) -> Floats:
    """(375, W * 5 * 5): log P(k | t; b, s f) at each grid point, ordered widening, k, t."""
    mean = np.arange(LEVELS) + _LEAN_AT[:, None, None]
    sd = _SPREAD_AT[:, None, None] * widenings[:, None]
    report = discretised_normal(mean, sd)  # (375, W, t, k)
    # A report narrower than the grid was made for may underflow; no report is impossible.
    log_report = np.log(np.maximum(report, np.finfo(float).tiny))
    return np.ascontiguousarray(log_report.swapaxes(2, 3)).reshape(_POINTS, -1)


def _grid_sd(weights: Floats, points: Floats) -> Floats:
    """(R,) standard deviation, with the share of a uniform within a grid cell (step^2 / 12)."""
    mean = weights @ points
    cell = np.gradient(points) ** 2 / 12.0
    return np.asarray(np.sqrt(weights @ (points**2 + cell) - mean**2))


def _grid_interval(weights: Floats, points: Floats, mass: float) -> Floats:
    """(R, 2) central interval, each weight spread evenly over the cell round its point."""
    step = points[1] - points[0]
    edges = np.append(points - step / 2, points[-1] + step / 2)
    reached = np.concatenate([np.zeros((len(weights), 1)), np.cumsum(weights, axis=1)], axis=1)
    ends = ((1.0 - mass) / 2.0, (1.0 + mass) / 2.0)
    return np.array([np.interp(ends, row, edges) for row in reached]).reshape(-1, 2)
