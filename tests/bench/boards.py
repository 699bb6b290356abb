"""The board of a simulated season, with a fast update after one more look (`bench_looking`)."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from apps.appraisal.compute.computing import Believed, Computed, believe, compute
from apps.appraisal.compute.deciding import Deciding, deciding_of, prospects_of
from apps.reckoning.arrays import Floats
from tests.bench.bench_decisions import knowing_raters
from tests.bench.brute_force import quick_of
from tests.bench.worlds import Season


@dataclass(frozen=True, eq=False)
class State:
    """The group's knowledge, and the board's choice. utility: (I,) E[U]."""

    played: Season
    believed: Believed
    utility: Floats

    @property
    def choice(self) -> int | None:
        return self.leader if self.utility[self.leader] > 0 else None

    @property
    def leader(self) -> int:
        return int(self.utility.argmax())

    @property
    def least_seen(self) -> int:
        return int(np.argmin(self.believed.condition.coverage))

    @cached_property
    def computed(self) -> Computed:
        return compute(self.played.inputs, believed=self.believed)


class Board:
    """The board of one season, with a fast update after more findings."""

    def __init__(self, played: Season) -> None:
        computed = compute(played.inputs)
        self.quick = quick_of(computed)
        self.begins = State(played, computed.believed, computed.standing.group_utility)
        self.base = self._quickly(computed.believed)

    def told(self, played: Season) -> State:
        """The state of a group that knows everybody's lean and spread."""
        known = replace(played.inputs, pooled=knowing_raters(played))
        return self.again(replace(played, inputs=known))

    def again(self, played: Season) -> State:
        """The state after more findings; the change of expected utility uses the same few draws."""
        believed = believe(played.inputs)
        moved = self._quickly(believed) - self.base
        return State(played, believed, self.begins.utility + moved)

    def _quickly(self, believed: Believed) -> Floats:
        return np.array([one(*believed.belief.of_boat(i)) for i, one in enumerate(self.quick)])


def deciding_at(state: State) -> Deciding | None:
    return deciding_of(state.computed, prospects_of(state.computed))
