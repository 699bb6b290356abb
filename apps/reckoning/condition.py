"""A boat's condition as people see it: one score, and the reports that differ from the belief.

This is a screening by non-experts, not a survey: the interval shows the uncertainty of the reports,
not what a survey would find.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.belief import Belief
from apps.reckoning.levels import LEVELS, mean_level
from apps.reckoning.priors import Fleet, Reports

BEST_SCORE = 100.0
A_LEVEL = 1.0  # a report that is this far from the belief differs; model.md 1


@dataclass(frozen=True, slots=True, eq=False)
class ConditionScore:
    """Condition of each boat. All (I,); scores from 0 (all failed) to 100 (all sound).

    score, low, high: expected score and its interval, from the belief. uncorrected: the same from
    the plain mean of what was reported, over what was looked at; NaN where nobody looked.
    coverage: share of the weight that anybody looked at, 0 to 1. All NaN for a boat none of whose
    checkpoints has weight.
    """

    score: Floats
    low: Floats
    high: Floats
    uncorrected: Floats
    coverage: Floats


def condition_score(
    belief: Belief, fleet: Fleet, reports: Reports, weights: Floats, *, mass: float = 0.80
) -> ConditionScore:
    """100 (1 - sum_j w_j E[t_ij] / (4 sum_j w_j)) for each boat (model.md 1).

    weights: (J,), not negative; the sums run over the checkpoints that apply to the boat. The
    interval is central and holds `mass`: given the care class and the graders the levels are
    independent, so the score has an exact mean and variance there, and the ends are quantiles of
    a mixture of normals.
    Raises ValueError for a weight that is negative or not a number.
    """
    if weights.shape != fleet.applies.shape[1:] or not np.all(weights >= 0):
        raise ValueError("weights: need one for each checkpoint, none negative")
    looks = look_counts(reports, fleet.applies.shape)
    weight = fleet.applies * weights
    with np.errstate(invalid="ignore"):
        share = weight / weight.sum(axis=1, keepdims=True)
        seen = share * (looks > 0)
        coverage = seen.sum(axis=1)
        reported = _mean_reported(reports, looks)
        uncorrected = _score(np.sum(seen * reported, axis=1) / coverage)
    care, level = belief.components
    mean = mean_level(level)
    variance = level @ np.arange(LEVELS) ** 2.0 - mean**2
    given_care = _score(np.einsum("ij,icj->ic", share, mean))
    scale = BEST_SCORE / (LEVELS - 1)
    sd = scale * np.sqrt(np.einsum("ij,icj->ic", share**2, np.maximum(variance, 0.0)))
    tail = (1.0 - mass) / 2.0
    return ConditionScore(
        score=np.einsum("ic,ic->i", care, given_care),
        low=_mixture_quantile(care, given_care, sd, tail),
        high=_mixture_quantile(care, given_care, sd, 1.0 - tail),
        uncorrected=uncorrected,
        coverage=coverage,
    )


def look_counts(reports: Reports, shape: tuple[int, ...]) -> Ints:
    """(I, J): how many reports each checkpoint of each boat has."""
    boats, checkpoints = shape
    cell = reports.boat * checkpoints + reports.checkpoint
    return np.bincount(cell, minlength=boats * checkpoints).reshape(boats, checkpoints)


def report_gaps(belief: Belief, reports: Reports) -> Floats:
    """(N,) levels: how much worse each report is than its grader would be expected to report.

    The expectation is this grader's mean report of the believed levels. So a known lean makes no
    gap, nor do the ends of the scale, beyond which nobody can report.
    """
    gaps = np.empty(len(reports))
    believed = belief.level[reports.boat, reports.checkpoint]
    for widening in np.unique(reports.widening):
        alike = reports.widening == widening
        expected = mean_level(belief.graders.report_probabilities(widening))
        of_report = expected[reports.grader[alike]]
        gaps[alike] = reports.level[alike] - np.einsum("nt,nt->n", believed[alike], of_report)
    return gaps


def differing_reports(belief: Belief, reports: Reports) -> Bools:
    """(N,): reports a level or more from the belief after correcting for lean.

    Only where somebody else looked too: a single report has no other to differ from.
    """
    boats, checkpoints, _ = belief.level.shape
    graders = len(belief.graders)
    cell = reports.boat * checkpoints + reports.checkpoint
    pairs = np.unique(cell * graders + reports.grader)
    people = np.bincount(pairs // max(graders, 1), minlength=boats * checkpoints)
    return np.asarray((people[cell] > 1) & (np.abs(report_gaps(belief, reports)) >= A_LEVEL))


def _score(level: Floats) -> Floats:
    return np.asarray(BEST_SCORE * (1.0 - level / (LEVELS - 1)))


def _mean_reported(reports: Reports, looks: Ints) -> Floats:
    """(I, J): plain mean of the reported levels, 0 where there are none."""
    boats, checkpoints = looks.shape
    cell = reports.boat * checkpoints + reports.checkpoint
    total = np.bincount(cell, weights=reports.level, minlength=looks.size)
    return np.asarray(total.reshape(boats, checkpoints) / np.maximum(looks, 1))


def _mixture_quantile(share: Floats, mean: Floats, sd: Floats, probability: float) -> Floats:
    """(I,) quantile on the scale of the score of a mixture of normals; share, mean, sd (I, C)."""
    low, high = np.zeros(len(mean)), np.full(len(mean), BEST_SCORE)
    width = np.maximum(sd, 1e-9)  # a level that is certain has no spread
    for _ in range(50):  # halves 100 points to below the rounding of a double
        middle = (low + high) / 2
        reached = np.einsum("ic,ic->i", share, scipy.special.ndtr((middle[:, None] - mean) / width))
        low = np.where(reached < probability, middle, low)
        high = np.where(reached < probability, high, middle)
    return np.where(np.isnan(mean).any(axis=1), np.nan, (low + high) / 2)
