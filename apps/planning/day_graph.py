"""The days that hours and range leave to one party: which calls, in which order, made or not.

A row is a call that the party is at, with the set of calls that it made so far. Rows lie in layers,
by how many calls were made; moves lead from the rows of one layer to those of the next.

Not all that a day must keep is kept here; what is left out only makes more days possible. Of the
calls made some may be forgotten, the way driven is compared with the range by its shortest order,
and a second call within the same span is as good as the first.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt

from apps.planning.calls import Call, between, calls_of
from apps.planning.problem import Problem, Span

# Calls that a row tells apart: sets grow as powers of two.
MOST_REMEMBERED = 12
MOST_ROWS = 20_000

Row = tuple[int, int]  # a call, and the calls made as a number whose bits they are
Reached = dict[Row, tuple[int, int]]  # how soon, from setting off, and after how many metres


@dataclass(frozen=True)
class Move:
    """From rows of the layer before to as many rows of this one, all from one call to another."""

    call: int
    then: int
    minutes: int
    before: npt.NDArray[np.intp]
    after: npt.NDArray[np.intp]


@dataclass(frozen=True)
class Layer:
    """`waits` are the moves to the next span of the same site, `drives` all others."""

    rows: list[Row]
    of_call: dict[int, slice]
    drives: list[Move]
    waits: list[Move]


class TooManyRows(Exception):
    """With so many calls remembered."""


def day_graph(problem: Problem, party: int, hopeful: Sequence[int]) -> "DayGraph":
    """The graph that remembers most calls of those that are not too large."""
    for remembered in range(MOST_REMEMBERED, 0, -4):
        try:
            return DayGraph(problem, party, hopeful, remembered, MOST_ROWS)
        except TooManyRows:
            continue
    return DayGraph(problem, party, hopeful, 0)


class DayGraph:
    """The days of one party. Times are minutes after it may set off."""

    def __init__(
        self,
        problem: Problem,
        party: int,
        hopeful: Sequence[int],
        remembered: int = MOST_REMEMBERED,
        most_rows: int | None = None,
    ) -> None:
        self.problem, self.party, self.most_rows = problem, party, most_rows
        who = problem.parties[party]
        self.leaves, self.length = who.leaves, max(who.back - who.leaves, 0)
        every = calls_of(problem, party, hopeful)
        self.calls = [call for call in every if call.nth == 0]
        self.again = [sum(map(call.again, every)) > 1 for call in self.calls]
        self.waits_at = self._waits_at()
        self.bits = self._bits(remembered)
        self.fixed = sum(bit for bit, call in zip(self.bits, self.calls, strict=True) if call.fixed)
        both = [between(call, self.calls) for call in self.calls]
        self.opening = [self._any_of(opening) for opening, _ in both]
        self.closing = [self._any_of(closing) for _, closing in both]
        self.layers = list(self._layers())

    # --- Calls -------------------------------------------------------------------------------

    def span(self, call: int) -> Span:
        """From when until when it is open."""
        opens, closes = self.calls[call].span
        return opens - self.leaves, closes - self.leaves

    def out(self, call: int) -> tuple[int, int]:
        """Minutes and metres from where the party sets off."""
        return self._way(self.problem.origin(self.party), self._place(call))

    def home(self, call: int) -> tuple[int, int]:
        """Minutes and metres from there to where it returns to."""
        return self._way(self._place(call), self.problem.home(self.party))

    def _waits_at(self) -> dict[int, int]:
        """By the second span of a site the first: who is there can wait for the gate to open."""
        found = {}
        own = [c for c, call in enumerate(self.calls) if not call.fixed]
        for _, calls in groupby(own, key=lambda c: self.calls[c].site):
            first, *others = sorted(calls, key=lambda c: self.calls[c].span)
            if others:
                found[others[0]] = first
        return found

    def _place(self, call: int) -> int:
        return self.problem.place(self.calls[call].site)

    def _way(self, here: int, there: int) -> tuple[int, int]:
        return self.problem.minutes[here][there], self.problem.metres[here][there]

    def _quickest(self, call: int) -> int:
        return min(self.problem.boats[n].minutes for n in self.calls[call].boats)

    def _bits(self, remembered: int) -> list[int]:
        """A bit for each call that is remembered, none for the others. What is fixed always is,
        then where most is to be seen."""

        def most_first(number: int) -> tuple[bool, int, int]:
            call = self.calls[number]
            return not call.fixed, -sum(self.problem.boats[n].worth for n in call.boats), number

        bits = [0] * len(self.calls)
        for at, number in enumerate(sorted(range(len(bits)), key=most_first)):
            if at < remembered or self.calls[number].fixed:
                bits[number] = 1 << at
        return bits

    def _any_of(self, calls: Sequence[Call]) -> int:
        """The set of their bits; every bit there is if one of them is not remembered."""
        own = [bit for bit, call in zip(self.bits, self.calls, strict=True) if call in calls]
        return -1 if 0 in own else sum(own)

    # --- Rows and moves ----------------------------------------------------------------------

    def _layers(self) -> Iterator[Layer]:
        reached: Reached = {}
        for call, bit in enumerate(self.bits):
            self._reach(reached, (call, bit), *self.out(call))
        before: dict[Row, int] = {}
        moves: list[tuple[Row, Row]] = []
        rows = 0
        while reached:
            rows += len(reached)
            if self.most_rows is not None and rows > self.most_rows:
                raise TooManyRows
            number = {row: n for n, row in enumerate(sorted(reached))}
            yield self._layer(number, before, moves)
            before = number
            reached, moves = self._onward(reached)

    def _onward(self, reached: Reached) -> tuple[Reached, list[tuple[Row, Row]]]:
        onward: Reached = {}
        moves = []
        for (call, made), (soonest, metres) in reached.items():
            done = max(soonest, self.span(call)[0]) + self._quickest(call)
            for then, bit in enumerate(self.bits):
                if not self._may_follow(call, then, made):
                    continue
                drive, way = self._way(self._place(call), self._place(then))
                row = then, made | bit
                if self._reach(onward, row, done + drive, metres + way):
                    moves.append(((call, made), row))
        return onward, moves

    def _may_follow(self, call: int, then: int, made: int) -> bool:
        if call == then:
            return False
        if not made & self.bits[then]:
            return True
        return bool(self.again[then] and made & self.opening[then] and made & self.closing[then])

    def _reach(self, reached: Reached, row: Row, soonest: int, metres: int) -> bool:
        """Notes that a row can be reached like this, unless hours, range or what is fixed forbid
        it."""
        call, made = row
        opens, closes = self.span(call)
        starts, most_m = max(soonest, opens), self.problem.parties[self.party].most_m
        if starts + self._quickest(call) > closes:
            return False
        if most_m is not None and metres + self.home(call)[1] > most_m:
            return False
        missed = self.fixed & ~made
        if missed and any(
            missed & bit and self.span(other)[0] < starts for other, bit in enumerate(self.bits)
        ):
            return False
        old = reached.get(row, (soonest, metres))
        reached[row] = min(old[0], soonest), min(old[1], metres)
        return True

    def _layer(
        self, number: dict[Row, int], before: dict[Row, int], moves: Iterable[tuple[Row, Row]]
    ) -> Layer:
        of_call: dict[int, slice] = {}
        for (call, _), n in number.items():
            of_call[call] = slice(of_call[call].start if call in of_call else n, n + 1)
        pairs: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for old, new in moves:
            pairs.setdefault((old[0], new[0]), []).append((before[old], number[new]))
        drives: list[Move] = []
        waits: list[Move] = []
        for (call, then), numbers in pairs.items():
            drive, _ = self._way(self._place(call), self._place(then))
            froms, tos = np.array(numbers, dtype=np.intp).T
            move = Move(call, then, drive, froms, tos)
            (waits if self.waits_at.get(then) == call else drives).append(move)
        return Layer(list(number), of_call, drives, waits)
