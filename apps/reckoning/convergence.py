"""Coordinate ascent with one stopping rule, shared by every iterative fit of the reckoning."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Protocol, Self, TypeVar

import numpy as np

from apps.reckoning.arrays import Floats


class Round(Protocol):
    """The result of one round."""

    @property
    def bound(self) -> float:
        """The quantity that no round may lower: an evidence bound or a log-likelihood."""

    def settled(self, previous: Self, tolerance: float, /) -> bool:
        """Whether nothing moved by more than the tolerance since the previous round.

        A yes or no, so that in a large fit the first part that moved settles the answer.
        """


State = TypeVar("State", bound=Round)


@dataclass(frozen=True, slots=True, eq=False)
class Ascent(Generic[State]):
    """The end of the rounds. bound: (rounds,), the bound after each round, in nats."""

    state: State
    bound: Floats
    converged: bool

    @property
    def rounds(self) -> int:
        return len(self.bound)


def ascend(
    first: State, improve: Callable[[State], State], *, tolerance: float, max_rounds: int
) -> Ascent[State]:
    """Improve until no probability moves by more than `tolerance`, or for `max_rounds` rounds.

    `first` is the outcome of round one. `converged` is False after `max_rounds`; the last state is
    still the best one found, because no round lowers the bound.
    """
    state, bounds, settled = first, [first.bound], False
    while not settled and len(bounds) < max_rounds:
        previous, state = state, improve(state)
        settled = state.settled(previous, tolerance)
        bounds.append(state.bound)
    return Ascent(state, np.array(bounds), settled)
