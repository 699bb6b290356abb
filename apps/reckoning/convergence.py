"""Coordinate ascent with one stopping rule, shared by every iterative fit of the reckoning."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Protocol, Self, TypeVar

import numpy as np

from apps.reckoning.arrays import Floats


class Round(Protocol):
    """What one round leaves behind."""

    @property
    def bound(self) -> float:
        """The quantity that no round may lower: an evidence bound or a log-likelihood."""

    def settled(self, previous: Self, tolerance: float, /) -> bool:
        """Whether nothing moved by more than the tolerance since the previous round.

        A yes or no, so that the first part that moved can answer for a large fit.
        """


State = TypeVar("State", bound=Round)


@dataclass(frozen=True, slots=True, eq=False)
class Ascent(Generic[State]):
    """Where the rounds ended. bound: (rounds,), the bound after each round, in nats."""

    state: State
    bound: Floats
    converged: bool

    @property
    def rounds(self) -> int:
        return len(self.bound)


def ascend(
    first: State, improve: Callable[[State], State], *, tolerance: float, max_rounds: int
) -> Ascent[State]:
    """Improve until no probability moves by more than `tolerance`, or `max_rounds` were run.

    `first` is the outcome of round one. A fit that ran out of rounds says so (`converged`); its
    last state is still the best one found, because no round lowers the bound.
    """
    state, bounds, settled = first, [first.bound], False
    while not settled and len(bounds) < max_rounds:
        previous, state = state, improve(state)
        settled = state.settled(previous, tolerance)
        bounds.append(state.bound)
    return Ascent(state, np.array(bounds), settled)
