"""The days that hours and range allow for one party: which yard visits, in which order.

A row is a yard visit where the party is, with the set of yard visits made so far. A layer holds the
rows with the same number of yard visits; moves lead from the rows of one layer to the next.

Not all constraints of a day are kept here; without them there are only more days. The set may omit
some yard visits, the range is compared with the shortest drive to the row, and a second yard visit
within one span counts as good as the first.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt

from apps.planning.solver.problem import Problem, Span
from apps.planning.solver.yard_visits import YardVisit, between, yard_visits_of

# How many yard visits a set remembers: the number of sets grows as a power of two.
MOST_KEPT = 12
MOST_ROWS = 20_000

Row = tuple[int, int]  # a yard visit, and the yard visits made as bits of a number
Reached = dict[Row, tuple[int, int]]  # minutes from the departure, and metres


@dataclass(frozen=True)
class Move:
    """From rows of the layer before to rows of this one, all from one yard visit to another."""

    yard_visit: int
    then: int
    minutes: int
    before: npt.NDArray[np.intp]
    after: npt.NDArray[np.intp]


@dataclass(frozen=True)
class GraphLayer:
    """`waits`: moves to the next span of the same site; `drives`: all other moves."""

    rows: list[Row]
    of_yard_visit: dict[int, slice]
    drives: list[Move]
    waits: list[Move]


class TooManyRows(Exception):
    """There are too many rows with this many remembered yard visits."""


def day_graph(problem: Problem, party: int, hopeful: Sequence[int]) -> "DayGraph":
    """The graph that remembers the most yard visits and is not too large."""
    for experience in range(MOST_KEPT, 0, -4):
        try:
            return DayGraph(problem, party, hopeful, experience, MOST_ROWS)
        except TooManyRows:
            continue
    return DayGraph(problem, party, hopeful, 0)


class DayGraph:
    """The days of one party. Times are minutes after its earliest departure."""

    def __init__(
        self,
        problem: Problem,
        party: int,
        hopeful: Sequence[int],
        experience: int = MOST_KEPT,
        most_rows: int | None = None,
    ) -> None:
        self.problem, self.party, self.most_rows = problem, party, most_rows
        who = problem.parties[party]
        self.leaves, self.length = who.leaves, max(who.back - who.leaves, 0)
        every = yard_visits_of(problem, party, hopeful)
        self.yard_visits = [yard_visit for yard_visit in every if yard_visit.nth == 0]
        self.again = [sum(map(yard_visit.again, every)) > 1 for yard_visit in self.yard_visits]
        self.waits_at = self._waits_at()
        self.bits = self._bits(experience)
        self.fixed = sum(
            bit
            for bit, yard_visit in zip(self.bits, self.yard_visits, strict=True)
            if yard_visit.fixed
        )
        both = [between(yard_visit, self.yard_visits) for yard_visit in self.yard_visits]
        self.opening = [self._any_of(opening) for opening, _ in both]
        self.closing = [self._any_of(closing) for _, closing in both]
        self.layers = list(self._layers())

    # --- Yard visits -------------------------------------------------------------------------

    def span(self, yard_visit: int) -> Span:
        """Its opening and closing time."""
        opens, closes = self.yard_visits[yard_visit].span
        return opens - self.leaves, closes - self.leaves

    def out(self, yard_visit: int) -> tuple[int, int]:
        """Minutes and metres from the party's start."""
        return self._way(self.problem.origin(self.party), self._place(yard_visit))

    def home(self, yard_visit: int) -> tuple[int, int]:
        """Minutes and metres from there to the party's return."""
        return self._way(self._place(yard_visit), self.problem.home(self.party))

    def _waits_at(self) -> dict[int, int]:
        """By the second span of a site, the first: a party there can wait until it opens again."""
        found = {}
        own = [c for c, yard_visit in enumerate(self.yard_visits) if not yard_visit.fixed]
        for _, yard_visits in groupby(own, key=lambda c: self.yard_visits[c].site):
            first, *others = sorted(yard_visits, key=lambda c: self.yard_visits[c].span)
            if others:
                found[others[0]] = first
        return found

    def _place(self, yard_visit: int) -> int:
        return self.problem.place(self.yard_visits[yard_visit].site)

    def _way(self, here: int, there: int) -> tuple[int, int]:
        return self.problem.minutes[here][there], self.problem.metres[here][there]

    def _quickest(self, yard_visit: int) -> int:
        return min(self.problem.boats[n].minutes for n in self.yard_visits[yard_visit].boats)

    def _bits(self, experience: int) -> list[int]:
        """A bit for each remembered yard visit, none for the others. Fixed ones come first, then
        those with the highest gains.
        """

        def most_first(number: int) -> tuple[bool, int, int]:
            yard_visit = self.yard_visits[number]
            return (
                not yard_visit.fixed,
                -sum(self.problem.boats[n].value for n in yard_visit.boats),
                number,
            )

        bits = [0] * len(self.yard_visits)
        for at, number in enumerate(sorted(range(len(bits)), key=most_first)):
            if at < experience or self.yard_visits[number].fixed:
                bits[number] = 1 << at
        return bits

    def _any_of(self, yard_visits: Sequence[YardVisit]) -> int:
        """The set of their bits; all bits if one of them is not remembered."""
        own = [
            bit
            for bit, yard_visit in zip(self.bits, self.yard_visits, strict=True)
            if yard_visit in yard_visits
        ]
        return -1 if 0 in own else sum(own)

    # --- Rows and moves ----------------------------------------------------------------------

    def _layers(self) -> Iterator[GraphLayer]:
        reached: Reached = {}
        for yard_visit, bit in enumerate(self.bits):
            self._reach(reached, (yard_visit, bit), *self.out(yard_visit))
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
        for (yard_visit, made), (soonest, metres) in reached.items():
            done = max(soonest, self.span(yard_visit)[0]) + self._quickest(yard_visit)
            for then, bit in enumerate(self.bits):
                if not self._may_follow(yard_visit, then, made):
                    continue
                drive, way = self._way(self._place(yard_visit), self._place(then))
                row = then, made | bit
                if self._reach(onward, row, done + drive, metres + way):
                    moves.append(((yard_visit, made), row))
        return onward, moves

    def _may_follow(self, yard_visit: int, then: int, made: int) -> bool:
        if yard_visit == then:
            return False
        if not made & self.bits[then]:
            return True
        return bool(self.again[then] and made & self.opening[then] and made & self.closing[then])

    def _reach(self, reached: Reached, row: Row, soonest: int, metres: int) -> bool:
        """Record that a row can be reached so, unless hours, range or fixed looks forbid it."""
        yard_visit, made = row
        opens, closes = self.span(yard_visit)
        starts, most_m = max(soonest, opens), self.problem.parties[self.party].most_m
        if starts + self._quickest(yard_visit) > closes:
            return False
        if most_m is not None and metres + self.home(yard_visit)[1] > most_m:
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
    ) -> GraphLayer:
        of_yard_visit: dict[int, slice] = {}
        for (yard_visit, _), n in number.items():
            of_yard_visit[yard_visit] = slice(
                of_yard_visit[yard_visit].start if yard_visit in of_yard_visit else n, n + 1
            )
        pairs: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for old, new in moves:
            pairs.setdefault((old[0], new[0]), []).append((before[old], number[new]))
        drives: list[Move] = []
        waits: list[Move] = []
        for (yard_visit, then), numbers in pairs.items():
            drive, _ = self._way(self._place(yard_visit), self._place(then))
            froms, tos = np.array(numbers, dtype=np.intp).T
            move = Move(yard_visit, then, drive, froms, tos)
            (waits if self.waits_at.get(then) == yard_visit else drives).append(move)
        return GraphLayer(list(number), of_yard_visit, drives, waits)
