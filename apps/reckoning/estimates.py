"""The exact step of the fit: care classes and levels of some boats, given their graders.

Given the graders, boats are independent of one another. So a fit works in batches small enough for
the processor's cache; the boats of one list are a single batch.

Arrays here have levels and care classes first and cells (boat by boat, all checkpoints) last, so
that every step runs along long rows.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.tally import Tally

# No level and no care class has a prior of 0. Far below any prior that matters; together with
# NOTHING, far enough above the smallest double that no boat's evidence becomes 0.
FLOOR: Final = 1e-60
# Log of a probability that stands for none: its exponential, and products with it, are still
# ordinary doubles. Arithmetic on smaller ones (subnormal) is many times slower.
NOTHING: Final = -230.0
BATCH: Final = 8_192  # cells; a batch then takes 2 MB, about a second-level cache


@dataclass(frozen=True, slots=True, eq=False)
class BatchEstimate:
    """Care classes and levels of B boats with S cells, given the graders.

    care: (3, B). level: (5, S). log_evidence: of all reports of the batch, nats.
    """

    care: Floats
    level: Floats
    log_evidence: float

    def settled(self, previous: "BatchEstimate", tolerance: float, /) -> bool:
        """Whether no probability moved by more than the tolerance."""
        return within(self.care - previous.care, tolerance) and within(
            self.level - previous.level, tolerance
        )


def within(change: Floats, tolerance: float) -> bool:
    """Whether no entry is further from 0 than the tolerance."""
    return bool(change.max(initial=0.0) <= tolerance and change.min(initial=0.0) >= -tolerance)


@dataclass(frozen=True, slots=True, eq=False)
class BoatBatch:
    """The reports about some boats. boats: which, a run of the fleet. tally: S cells."""

    boats: slice
    tally: Tally

    def estimate(self, prior: Floats, care_prior: Floats, table: Floats) -> BatchEstimate:
        """Care classes and levels given the reports.

        prior: (3, 5, S), P(level | care class), floored. care_prior: (3, B). table: (codes, 5),
        expected log-likelihoods of the reports.

        Given its care class a boat's levels are independent, so the weight of a class is the
        product over cells of their normalisers. It is a sum of logs, because a boat with hundreds
        of reports would underflow otherwise.
        """
        likelihood, peak = self._likelihood(table)
        normaliser = np.einsum("cts,ts->cs", prior, likelihood)
        log_joint = self._sum_by_boat(np.log(normaliser))
        log_joint += np.log(np.maximum(care_prior, FLOOR))
        best = log_joint.max(axis=0)
        care = np.exp(np.maximum(log_joint - best, NOTHING))
        total = care.sum(axis=0)
        care /= total
        level = np.einsum("cs,cts->ts", self._share(care, normaliser), prior)
        level *= likelihood
        return BatchEstimate(care, level, float((best + np.log(total)).sum() + peak.sum()))

    def level_given_care(self, prior: Floats, table: Floats) -> Floats:
        """(3, 5, S): P(level | care class, all), with the table that the estimate used."""
        likelihood, _ = self._likelihood(table)
        weight = prior * likelihood
        weight /= weight.sum(axis=1, keepdims=True)
        return weight

    def _likelihood(self, table: Floats) -> tuple[Floats, Floats]:
        """(5, S) likelihood of the reports, scaled to at most 1, and (S,) log of the scale."""
        evidence = self.tally.evidence(table)
        peak = evidence.max(axis=0)
        evidence -= peak
        np.maximum(evidence, NOTHING, out=evidence)
        return np.exp(evidence, out=evidence), peak

    def _sum_by_boat(self, by_cell: Floats) -> Floats:
        """(c, S) -> (c, B)."""
        return np.asarray(by_cell.reshape(len(by_cell), self._count, -1).sum(axis=2))

    def _share(self, care: Floats, normaliser: Floats) -> Floats:
        """(3, S): the care class's probability over the cell's normaliser."""
        by_boat = normaliser.reshape(len(care), self._count, -1)
        return np.asarray((care[:, :, None] / by_boat).reshape(normaliser.shape))

    @property
    def _count(self) -> int:
        return int(self.boats.stop - self.boats.start)


def batches(tally: Tally, *, boats: int, checkpoints: int) -> tuple[BoatBatch, ...]:
    """A fleet's reports in batches of boats; tally: boats * checkpoints cells, boat by boat."""
    run = max(1, BATCH // max(checkpoints, 1))
    starts = range(0, boats if checkpoints else 0, run)
    return tuple(
        BoatBatch(
            slice(start, min(start + run, boats)),
            tally.part(start * checkpoints, min(start + run, boats) * checkpoints),
        )
        for start in starts
    )
