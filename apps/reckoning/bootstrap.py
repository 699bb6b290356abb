"""Intervals by resampling the units, for coefficients that have no simple standard error.

A coefficient is written once, as a function of weights on its units, shape (B, U) to (B, ...): ones
give its value, counts of a resample give a bootstrap replicate. Percentile intervals: Efron &
Tibshirani (1993), An Introduction to the Bootstrap, chapter 13. With fewer than about twenty units
they are somewhat too short, as all bootstrap intervals are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from apps.reckoning.arrays import Bools, Floats

# Codes for why a coefficient has no value; callers put them into words.
Reason = Literal["too_few_raters", "too_few_units", "no_variation"]

Statistic = Callable[[Floats], Floats]

# Number of weights computed at once: 200 kB, so that their results stay in the cache.
CHUNK = 25_000
# A resample without any variation has no value. If more than this share has none, the others do
# not represent the whole, and there is no interval.
MOST_UNDEFINED = 0.1


@dataclass(frozen=True, slots=True)
class Resampling:
    """How intervals are made; the same seed gives the same interval."""

    replicates: int = 1000
    confidence: float = 0.95
    seed: int = 0

    def __post_init__(self) -> None:
        if self.replicates < 1:
            raise ValueError(f"replicates must be at least 1, got {self.replicates}")
        if not 0.0 < self.confidence < 1.0:
            raise ValueError(f"confidence must be within 0 and 1, got {self.confidence}")


@dataclass(frozen=True, slots=True)
class Estimate:
    """A coefficient with its interval.

    `units` is the number of units it is computed from. `value` is None where it is undefined;
    `reason` says why. `low` and `high` are None if no interval was requested or none is possible.
    """

    value: float | None
    low: float | None
    high: float | None
    units: int
    reason: Reason | None = None


def quotient(above: Floats, below: Floats, defined: Bools) -> Floats:
    """Return above / below, nan where it is not defined; all of one shape."""
    result: Floats = np.divide(above, below, out=np.full_like(below, np.nan), where=defined)
    return result


def undefined(reason: Reason, units: int) -> Estimate:
    """Return the estimate without a value, with its reason."""
    return Estimate(value=None, low=None, high=None, units=units, reason=reason)


def estimate(statistic: Statistic, units: int, resampling: Resampling | None) -> Estimate:
    """Return the statistic of all units with its interval; `statistic` maps (B, U) to (B,).

    nan counts as undefined for lack of variation. No interval if `resampling` is None.
    """
    return estimates(lambda weights: statistic(weights)[:, None], units, resampling)[0]


def estimates(
    statistic: Statistic, units: int, resampling: Resampling | None
) -> tuple[Estimate, ...]:
    """Return K estimates from the same resamples; `statistic` maps (B, U) to (B, K)."""
    values = statistic(np.ones((1, units)))[0]
    defined = np.isfinite(values)
    if resampling is None or not defined.any():
        intervals = np.full((2, len(values)), np.nan)
    else:
        chunks = [statistic(weights) for weights in _resamples(units, resampling)]
        intervals = _percentiles(np.concatenate(chunks), resampling.confidence)
    return tuple(
        Estimate(float(value), _or_none(low), _or_none(high), units)
        if is_defined
        else undefined("no_variation", units)
        for value, is_defined, low, high in zip(values, defined, *intervals, strict=True)
    )


def _resamples(units: int, resampling: Resampling) -> Iterator[Floats]:
    """Yield weights (B, U): how often each unit was drawn; B is limited by memory."""
    draw = np.random.default_rng(resampling.seed)
    rows = max(1, CHUNK // units)
    for start in range(0, resampling.replicates, rows):
        count = min(rows, resampling.replicates - start)
        drawn = draw.integers(units, size=(count, units)) + np.arange(count)[:, None] * units
        counts = np.bincount(drawn.ravel(), minlength=count * units)
        yield counts.reshape(count, units).astype(np.float64)


def _percentiles(samples: Floats, confidence: float) -> Floats:
    """Return (2, K): both ends of the middle `confidence` of each column, nan for no interval."""
    tail = (1 - confidence) / 2
    ends = np.full((2, samples.shape[1]), np.nan)
    for k, column in enumerate(samples.T):
        defined = column[np.isfinite(column)]
        if len(defined) >= (1 - MOST_UNDEFINED) * len(column):
            ends[:, k] = np.quantile(defined, [tail, 1 - tail])
    return ends


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
