"""The board of a simulated season, and quickly again after one more look (`bench_looking`)."""

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
    """What the group knows, and what the board would have it do. utility: (I,) E[U]."""

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
    """The board of one season as it begins, and quickly again with more findings."""

    def __init__(self, played: Season) -> None:
        computed = compute(played.inputs)
        self.quick = quick_of(computed)
        self.begins = State(played, computed.believed, computed.standing.group_utility)
        self.base = self._quickly(computed.believed)

    def told(self, played: Season) -> State:
        """What a group would know that is told how everybody leans and spreads."""
        known = replace(played.inputs, pooled=knowing_raters(played))
        return self.again(replace(played, inputs=known))

    def again(self, played: Season) -> State:
        """By how much the expected utility moves is worked out quickly, on the same few draws."""
        believed = believe(played.inputs)
        moved = self._quickly(believed) - self.base
        return State(played, believed, self.begins.utility + moved)

    def _quickly(self, believed: Believed) -> Floats:
        return np.array([one(*believed.belief.of_boat(i)) for i, one in enumerate(self.quick)])


def deciding_at(state: State) -> Deciding | None:
    return deciding_of(state.computed, prospects_of(state.computed))
