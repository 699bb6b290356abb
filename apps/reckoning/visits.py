"""Many findings at once: which outcomes a visit or a survey would tell apart.

Each draw of a candidate is given the reports that a visit would bring home if that draw were true.
The exact posterior of the care class, and an additive reading of each report, then foretell the
outcome from the reports alone: a score. Draws are put in order of score and joined into groups
wherever a higher score does not go with a better mean outcome (isotonic regression by pooling
adjacent violators: Ayer et al., 1955, Annals of Mathematical Statistics 26, 641-647; monotone
fits stray far less than fixed narrow groups). Deciding by group is something that the buyers could
really do, so the estimate is never much above the true worth.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.simulation import Levels, Singles

# Draws that are never told apart, at least: narrower groups fit noise and cost time.
SMALLEST_GROUP = 16
TINY = 1e-30  # in place of a probability of 0, whose report is never drawn


@dataclass(frozen=True, slots=True, eq=False)
class Visitor:
    """Who goes and looks at many things: how they lean runs through all that they report.

    by_draw: (K, 5, 5) P(report k | true level t) given each draw of the graders of the list; guess:
    the same where the look is hampered. share: (K,), what each counts, summing to 1.
    """

    by_draw: Floats
    guess: Floats
    share: Floats

    @property
    def report(self) -> Floats:
        """(5, 5): of one report on what is well seen, however they lean."""
        return np.asarray(np.einsum("d,dtk->tk", self.share, self.by_draw))

    def reports(self, hampered: Bools) -> Floats:
        """(J, 5, 5): of one report on each checkpoint, however they lean."""
        guess = np.einsum("d,dtk->tk", self.share, self.guess)
        return np.where(hampered[:, None, None], guess, self.report)


class Groups:
    """Draws told apart by a score, however coarsely it orders their outcomes."""

    def __init__(self, score: NDArray[np.floating[Any]]) -> None:
        """score: (D,), what is foretold of each draw; a higher one should go with a better one."""
        self._order: Ints = np.argsort(score)
        ranked = score[self._order]
        # Groups of equal size, moved so that they never part draws of the same score.
        self._starts = np.unique(np.searchsorted(ranked, ranked[::SMALLEST_GROUP]))
        self._sizes = np.diff(self._starts, append=len(ranked))

    def gain(self, utility: Floats, other: float) -> float:
        """Worth of the score: E max(E[U | group], other) - max(E[U], other), 0 or more, in money.

        utility: (D,) of the draws. other: what one would go on with instead.
        """
        informed = float(np.maximum(self._fitted(utility), other) @ self._sizes) / len(utility)
        return max(0.0, informed - max(float(utility.mean()), other))

    def behind(self, utility: Floats, other: float) -> float:
        """Chance of a score after which the other is better, 0..1."""
        return float(self._sizes[self._fitted(utility) < other].sum()) / len(utility)

    def _fitted(self, utility: Floats) -> Floats:
        """E[U | group] of each group, rising."""
        mean = np.add.reduceat(utility[self._order], self._starts) / self._sizes
        fitted: Floats = isotonic_regression(mean, weights=self._sizes).x
        return fitted


def foretold(
    care: Floats,
    level_given_care: Floats,
    utility_by_level: Floats,
    reports: Levels,
    report: Floats,
) -> Singles:
    """Expected outcome given the reports that a visit would bring home, up to a constant, (D,).

    care: (3,), level_given_care: (3, A, 5): belief about the A checkpoints visited.
    utility_by_level: (A, 3, 5) E[U | care class, level]. reports: (A, D) of the draws.
    report: (A, 5, 5) P(report k | true level t). Deterministic.
    Exact if what a level of one checkpoint does to the outcome did not hang on the others, and
    reports were independent given the levels. Where a lean runs through all of them, that makes the
    order of the draws, and with it the valuation, somewhat worse than it could be.
    """
    levels = level_given_care.transpose(1, 0, 2)  # (A, 3, 5)
    chance = np.einsum("act,atk->ack", levels, report)  # P(report | care class)
    weighted = np.einsum("act,act,atk->ack", levels, utility_by_level, report)
    uninformed = (levels * utility_by_level).sum(axis=2)  # (A, 3) E[U | care class]
    informed = np.divide(weighted, chance, out=np.zeros_like(chance), where=chance > 0)
    moved = informed - uninformed[:, :, None]
    evidence = np.log(np.maximum(chance, TINY))
    tables = np.concatenate([evidence, moved], axis=1).transpose(0, 2, 1).astype(np.float32)

    total = np.zeros((reports.shape[1], 6), dtype=np.float32)
    read = np.empty_like(total)
    for table, row in zip(tables, reports, strict=True):
        np.take(table, row, axis=0, out=read, mode="clip")  # "clip" lets take skip its buffer
        total += read
    weight = total[:, :3] + np.log(np.maximum(care, TINY)).astype(np.float32)
    posterior = np.exp(weight - weight.max(axis=1, keepdims=True))
    outcome = total[:, 3:]
    if len(uninformed):
        outcome = outcome + uninformed.mean(axis=0).astype(np.float32)
    score: Singles = (posterior * outcome).sum(axis=1) / posterior.sum(axis=1)
    return score


def reports_of(level: Levels, report: Floats, *, seed: int) -> Levels:
    """A report on each checkpoint in each draw, (A, D), from its true level alone.

    level: (A, D). report: (A, 5, 5).
    """
    edges = np.cumsum(report, axis=2)[:, :, : LEVELS - 1]
    return _drawn(level.astype(np.intp), edges, seed)


def reports_by(
    visitor: Visitor, level: Levels, graders: Ints, hampered: Bools, *, seed: int
) -> Levels:
    """The same by one visitor. graders: (D,), which draw of them goes with each draw.

    hampered: (A,), of which of the looks no more than a guess comes.
    """
    sharp, blunt = (
        np.cumsum(by_draw, axis=2).reshape(-1, LEVELS)[:, : LEVELS - 1]
        for by_draw in (visitor.by_draw, visitor.guess)
    )
    edges = np.where(hampered[:, None, None], blunt, sharp)
    return _drawn(level + LEVELS * graders, edges, seed)


def _drawn(row_of_edges: Ints, edges: Floats, seed: int) -> Levels:
    """(A, D) reports. row_of_edges: (A, D) into edges (A, N, 4), chances of each level or lower."""
    chance = np.random.default_rng(seed).random(row_of_edges.shape, dtype=np.float32)
    reports = np.zeros(row_of_edges.shape, dtype=np.int8)
    edge = np.empty(row_of_edges.shape[1], dtype=np.float32)
    for informed, at, place, below in zip(
        reports, row_of_edges, chance, edges.astype(np.float32), strict=True
    ):
        for edge_at in below.T:
            np.take(edge_at, at, out=edge, mode="clip")
            informed += place >= edge
    return reports
