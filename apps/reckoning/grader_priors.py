"""Priors of graders: what is assumed before they report."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats
from apps.reckoning.reporting import SLIP
from apps.reckoning.typical import SELLERS, Typical

# The grid, the priors and the widenings: model.md 1.
LEANS: Final = np.linspace(-1.5, 1.5, 25)


SPREADS: Final = np.geomspace(0.2, 1.8, 15)


WIDENING: Final = {"sure": 1.0, "fairly": 1.3, "guess": 2.0}


# How far a person's lean and log-spread may drift from one list to the next. Own choice, no source;
# it also keeps the prior of a well-known grader wider than a step of the grid.
DRIFT: Final = 0.15


_ENDS: Final = np.stack([LEANS[[0, -1]], np.log(SPREADS[[0, -1]])], axis=1)[..., None]  # (2, 2, 1)


@dataclass(frozen=True, slots=True, eq=False)
class GraderPriors:
    """The assumed distribution of each grader: b ~ N(mean, sd^2), ln s ~ N(mean, sd^2).

    All (R,), in levels and in natural log of levels. slip: chance that a report has nothing to do
    with the truth. praise: chance that it is praise, whatever the truth; 0 if left out. Raises
    ValueError where shapes differ, a standard deviation is not positive, or a chance is not in
    [0, 1).
    """

    lean_mean: Floats
    lean_sd: Floats
    log_spread_mean: Floats
    log_spread_sd: Floats
    slip: Floats
    praise: Floats = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        if not len(self.praise):
            object.__setattr__(self, "praise", np.zeros(len(self.lean_mean)))
        for name in self.__slots__:
            if getattr(self, name).shape != (len(self.lean_mean),):
                raise ValueError(f"{name}: need one value for each grader")
            if name.endswith("_sd") and not np.all(getattr(self, name) > 0):
                raise ValueError(f"{name}: must be positive")
        for name in ("slip", "praise"):
            chance = getattr(self, name)
            if not np.all((chance >= 0) & (chance < 1)):
                raise ValueError(f"{name}: must be from 0 to below 1")

    def __len__(self) -> int:
        return len(self.lean_mean)

    @classmethod
    def joined(cls, parts: Sequence["GraderPriors"]) -> "GraderPriors":
        """The priors of several people after one another, in the order given."""
        return cls(*(np.concatenate([getattr(p, name) for p in parts]) for name in cls.__slots__))

    def values(self, free: Floats) -> Floats:
        """Leans and log-spreads (..., 2, R) of free values, which may be any number.

        A free value is standard normal if a lean has the assumed distribution, truncated at the
        ends
        of the grid: the two correspond by equal shares of the distributions below them.
        """
        low, high = self._shares_below()
        below = low + (high - low) * scipy.special.ndtr(free)
        mean, sd = self._both("mean"), self._both("sd")
        return np.asarray(np.clip(mean + sd * scipy.special.ndtri(below), *_ENDS))

    def free(self, values: Floats) -> Floats:
        """Free values (..., 2, R) of leans and log-spreads; finite also at an end of the grid."""
        low, high = self._shares_below()
        below = scipy.special.ndtr((values - self._both("mean")) / self._both("sd"))
        return np.asarray(
            scipy.special.ndtri(np.clip((below - low) / (high - low), 1e-6, 1 - 1e-6))
        )

    def _shares_below(self) -> tuple[Floats, Floats]:
        """(2, R) twice: the share of the assumed distributions below either end of the grid."""
        low, high = (
            scipy.special.ndtr((end - self._both("mean")) / self._both("sd")) for end in _ENDS
        )
        return low, high

    def _both(self, name: str) -> Floats:
        """(2, R), of leans and of log-spreads."""
        return np.stack([getattr(self, f"lean_{name}"), getattr(self, f"log_spread_{name}")])


def member_prior(count: int = 1) -> GraderPriors:
    """Any member: b ~ N(0, 0.5^2), ln s ~ N(ln 0.6, 0.35^2); `count` of them."""
    return _same_prior(count, lean_sd=0.5, spread=0.6, log_spread_sd=0.35)


def surveyor_prior(count: int = 1) -> GraderPriors:
    """A surveyor, or a quote that names a level: b ~ N(0, 0.15^2), ln s ~ N(ln 0.3, 0.25^2)."""
    return _same_prior(count, lean_sd=0.15, spread=0.3, log_spread_sd=0.25, slip=0.0)


def sound_prior(count: int = 1) -> GraderPriors:
    """Taps measured from recordings: b ~ N(0, 0.5^2), ln s ~ N(ln 1.7, 0.15^2).

    They describe only the tapped places, and no scale is published. So the prior is wide: they
    move the belief by a third of a level at most. Own estimate, no source.
    """
    return _same_prior(count, lean_sd=0.5, spread=1.7, log_spread_sd=0.15, slip=0.0)


def seller_prior(count: int = 1, known: "Typical | None" = None) -> GraderPriors:
    """Whoever sells a boat and says how she is: b ~ N(-0.75, 0.5^2), ln s ~ N(ln 0.8, 0.21^2).

    A seller leans to the good, and one answer in five is praise that has nothing to do with the
    boat. Nobody who sells says by mistake that she is worse than she is: slips are rare. Own
    estimates, no source. known: what a club knows of its sellers, in the place of these.
    """
    lean, spread = (known or SELLERS).lean, (known or SELLERS).log_spread
    steady = _same_prior(
        count,
        lean_mean=lean.mean,
        lean_sd=lean.one_sd,
        spread=float(np.exp(spread.mean)),
        log_spread_sd=spread.one_sd,
        slip=0.003,
    )
    return replace(steady, praise=np.full(count, 0.2))


def _same_prior(
    count: int,
    *,
    lean_mean: float = 0.0,
    lean_sd: float,
    spread: float,
    log_spread_sd: float,
    slip: float = SLIP,
) -> GraderPriors:
    figures = (lean_mean, lean_sd, float(np.log(spread)), log_spread_sd, slip)
    return GraderPriors(*(np.full(count, figure) for figure in figures))
