"""Many findings at once: which outcomes a visit or a survey would distinguish.

Each draw of a candidate gets the reports that a visit would give if that draw were true. A score
then predicts the outcome from the reports alone, by the exact posterior of the care class and an
additive effect of each report. Draws are sorted by score and joined into groups wherever a higher
score has no better mean outcome (isotonic regression by pooling adjacent violators: Ayer et al.,
1955, Annals of Mathematical Statistics 26, 641-647; monotone fits err far less than fixed narrow
groups). Buyers could really decide by group, so the estimate is never much above the true value.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy  # its parts are loaded on first use
from numpy.typing import NDArray

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.simulation import Levels, Singles
from apps.reckoning.spreading import LOOK, UNITS, EvenPlaces, in_units

# Smallest number of draws in a group: narrower groups fit noise and cost time.
SMALLEST_GROUP = 16
# How many reports are read at once; an int8 holds the combinations of 3 at most.
TOGETHER = 3
TINY = 1e-30  # in place of a probability of 0, whose report is never drawn


@dataclass(frozen=True, slots=True, eq=False)
class Visitor:
    """A person who looks at many things, with one lean in all their reports.

    by_draw: (K, 5, 5) P(report k | true level t) given each draw of the graders of the list; guess:
    the same for a hampered look. share: (K,), weight of each, summing to 1. K is 1 if the list says
    nothing of visitors, whatever its graders are.
    """

    by_draw: Floats
    guess: Floats
    share: Floats

    @property
    def report(self) -> Floats:
        """(5, 5): of one unhampered report, averaged over leans."""
        return np.asarray(np.einsum("d,dtk->tk", self.share, self.by_draw))

    def reports(self, hampered: Bools) -> Floats:
        """(J, 5, 5): of one report on each checkpoint, averaged over leans."""
        guess = np.einsum("d,dtk->tk", self.share, self.guess)
        return np.where(hampered[:, None, None], guess, self.report)


class Groups:
    """Draws grouped by a score, which may order their outcomes only roughly."""

    def __init__(self, score: NDArray[np.floating[Any]]) -> None:
        """score: (D,), predicted outcome of each draw; higher should mean better."""
        self._order: Ints = np.argsort(score)
        ranked = score[self._order]
        # Groups of equal size, with limits moved so that draws of the same score stay together.
        self._starts = np.unique(np.searchsorted(ranked, ranked[::SMALLEST_GROUP]))
        self._sizes = np.diff(self._starts, append=len(ranked))

    def gain(self, utility: Floats, other: float) -> float:
        """Value of the score: E max(E[U | group], other) - max(E[U], other), 0 or more, in money.

        utility: (D,) of the draws. other: value of the alternative.
        """
        informed = float(np.maximum(self._fitted(utility), other) @ self._sizes) / len(utility)
        return max(0.0, informed - max(float(utility.mean()), other))

    def behind(self, utility: Floats, other: float) -> float:
        """Chance of a score after which the alternative is better, 0..1."""
        return float(self._sizes[self._fitted(utility) < other].sum()) / len(utility)

    def findings(self, utility: Floats) -> Ints:
        """A number from 0 for each draw, (D,): draws with the same have the same E[U | group]."""
        number = np.cumsum(np.diff(self._fitted(utility), prepend=-np.inf) > 0) - 1
        found = np.empty(len(self._order), dtype=np.intp)
        found[self._order] = np.repeat(number, self._sizes)
        return found

    def _fitted(self, utility: Floats) -> Floats:
        """E[U | group] of each group, rising."""
        mean = np.add.reduceat(utility[self._order], self._starts) / self._sizes
        fitted: Floats = scipy.optimize.isotonic_regression(mean, weights=self._sizes).x
        return fitted


def foretold(
    care: Floats,
    level_given_care: Floats,
    utility_by_level: Floats,
    reports: Levels,
    report: Floats,
) -> Singles:
    """Expected outcome given the reports that a visit would give, up to a constant, (D,).

    care: (3,), level_given_care: (3, A, 5): belief about the A checkpoints visited.
    utility_by_level: (A, 3, 5) E[U | care class, level]. reports: (A, D) of the draws.
    report: (A, 5, 5) P(report k | true level t). Deterministic.
    Exact if the effect of one checkpoint's level does not depend on the others, and reports are
    independent given the levels. With a lean common to all reports, the order of the draws, and
    the value from it, is somewhat worse than the best possible.
    """
    levels = level_given_care.transpose(1, 0, 2)  # (A, 3, 5)
    chance = np.einsum("act,atk->ack", levels, report)  # P(report | care class)
    weighted = np.einsum("act,act,atk->ack", levels, utility_by_level, report)
    uninformed = (levels * utility_by_level).sum(axis=2)  # (A, 3) E[U | care class]
    informed = np.divide(weighted, chance, out=np.zeros_like(chance), where=chance > 0)
    moved = informed - uninformed[:, :, None]
    evidence = np.log(np.maximum(chance, TINY))
    # Rows of a power of two in bytes: numpy copies others many times slower.
    tables = np.zeros((*chance.shape[::2], 8), dtype=np.float32)  # (A, 5, 3 + 3 + 2 unused)
    tables[:, :, :3], tables[:, :, 3:6] = evidence.swapaxes(1, 2), moved.swapaxes(1, 2)

    total = np.zeros((reports.shape[1], 8), dtype=np.float32)
    read = np.empty_like(total)
    for start in range(0, len(tables), TOGETHER):
        table, row = tables[start], reports[start]
        for more, reported in zip(
            tables[start + 1 : start + TOGETHER], reports[start + 1 : start + TOGETHER], strict=True
        ):
            table = (table[:, None] + more).reshape(-1, 8)  # every combination of the reports
            row = row * np.int8(LEVELS) + reported
        np.take(table, row, axis=0, out=read, mode="clip")  # "clip" lets take skip its buffer
        total += read
    by_class = np.ascontiguousarray(total.T)  # (8, D): sums over three rows, not in each of D rows
    weight = by_class[:3] + np.log(np.maximum(care, TINY)).astype(np.float32)[:, None]
    posterior = np.exp(weight - weight.max(axis=0))
    outcome = by_class[3:6]
    if len(uninformed):
        outcome = outcome + uninformed.mean(axis=0).astype(np.float32)[:, None]
    score: Singles = (posterior * outcome).sum(axis=0) / posterior.sum(axis=0)
    return score


def reports_of(level: Levels, report: Floats, *, seed: int) -> Levels:
    """A report on each checkpoint in each draw, (A, D), from its true level alone.

    level: (A, D). report: (A, 5, 5).
    """
    tables, which = np.unique(report, axis=0, return_inverse=True)
    edges = in_units(np.cumsum(tables, axis=2)[:, :, : LEVELS - 1])
    # What is reported at each level and place. Checkpoints have few different tables: looking up in
    # one is faster than comparing each draw's place with the edges at its level.
    every_place = np.arange(UNITS, dtype=np.uint16)
    reported = (every_place >= edges[..., None]).sum(axis=2, dtype=np.int8)
    reported = reported.reshape(len(tables), LEVELS * UNITS)
    places = _places(level, seed)
    reports = np.empty_like(level)
    for n, table in enumerate(which.tolist()):
        reports[n] = reported[table].take(level[n] * np.int32(UNITS) + places[n])
    return reports


def reports_by(
    visitor: Visitor, level: Levels, graders: Ints, hampered: Bools, *, seed: int
) -> Levels:
    """Reports as `reports_of` gives, by one visitor. graders: (D,), each draw's graders.

    hampered: (A,), looks that give no more than a guess.
    """
    sharp, blunt = (
        np.cumsum(by_draw, axis=2).reshape(-1, LEVELS)[:, : LEVELS - 1]
        for by_draw in (visitor.by_draw, visitor.guess)
    )
    edges = in_units(np.where(hampered[:, None, None], blunt, sharp))  # (A, K * 5, 4)
    first = LEVELS * graders if len(visitor.share) > 1 else np.zeros_like(graders)
    places = _places(level, seed)
    reports = np.zeros_like(level)
    for n, below in enumerate(edges):
        place, at = places[n], level[n] + first
        for edge in below.T:
            reports[n] += (place >= edge.take(at)).view(np.int8)
    return reports


def _places(level: Levels, seed: int) -> EvenPlaces:
    checkpoints, draws = level.shape
    return EvenPlaces(LOOK, checkpoints, draws, np.random.default_rng(seed))
