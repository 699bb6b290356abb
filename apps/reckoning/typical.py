"""What is known of one kind of grader, of whom each is met once: the sellers of boats.

A member grades many boats, so a club learns that member's own lean. A seller speaks of one boat, so
what one seller's answers teach has to pass to the next through the kind: each seller's lean is
normal about the kind's mean. It is the normal hierarchical model with a known spread between its
members (Gelman et al., Bayesian Data Analysis, 3rd ed., 5.4).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from apps.reckoning.arrays import Floats


@dataclass(frozen=True, slots=True)
class KindFigure:
    """One figure of a kind of grader: m ~ N(mean, sd^2), and each grader's own ~ N(m, between^2).

    Raises ValueError unless sd and between are at least 0 and one of them is above.
    """

    mean: float
    sd: float
    between: float

    def __post_init__(self) -> None:
        if self.sd < 0 or self.between < 0 or self.one_sd == 0:
            raise ValueError("sd: must be at least 0, like between, and one of them above 0")

    @property
    def one_sd(self) -> float:
        """Standard deviation of one grader of whom nothing else is known."""
        return float(np.hypot(self.sd, self.between))

    def learned(self, mean: Floats, sd: Floats) -> "KindFigure":
        """After graders whose own figure was measured as N(mean, sd^2), without this prior.

        Both (R,). A grader whose measure is infinitely wide teaches nothing.
        """
        weight = 1.0 / (self.between**2 + sd**2)
        prior = np.inf if self.sd == 0 else self.sd**-2.0
        if np.isinf(prior) or not len(mean):
            return self
        total = prior + weight.sum()
        moved = (prior * self.mean + weight @ mean) / total
        return KindFigure(float(moved), float(total**-0.5), self.between)

    def taken_out(self, mean: Floats, sd: Floats) -> tuple[Floats, Floats]:
        """(R,) twice: the measures behind posteriors N(mean, sd^2) of graders of this kind.

        Dividing the prior out of a posterior leaves the likelihood. Where the reports taught
        nothing, it is infinitely wide.
        """
        of_prior = self.one_sd**-2.0
        own = sd**-2.0 - of_prior
        taught = own > 1e-9
        safe = np.where(taught, own, 1.0)
        measured = np.where(taught, (mean * sd**-2.0 - self.mean * of_prior) / safe, self.mean)
        return measured, np.where(taught, safe**-0.5, np.inf)


@dataclass(frozen=True, slots=True)
class Typical:
    """A kind of grader: the lean in levels, and the natural log of the spread."""

    lean: KindFigure
    log_spread: KindFigure

    def after(
        self, lean_mean: Floats, lean_sd: Floats, log_spread_mean: Floats, log_spread_sd: Floats
    ) -> "Typical":
        """The kind, given the posteriors (all (R,)) that a fit found for graders of it."""
        return Typical(
            self.lean.learned(*self.lean.taken_out(lean_mean, lean_sd)),
            self.log_spread.learned(*self.log_spread.taken_out(log_spread_mean, log_spread_sd)),
        )


# Project's own estimate, no source: sellers report most of a level better than it is, some more
# than others. What they say untruly on purpose is in `seller_prior`.
SELLERS: Final = Typical(
    lean=KindFigure(mean=-0.75, sd=0.3, between=0.4),
    log_spread=KindFigure(mean=float(np.log(0.8)), sd=0.15, between=0.15),
)
