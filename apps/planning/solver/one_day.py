"""The best day of one party for given gains of the boats.

Dynamic programming over the rows of `day_graph` and the minutes of the day; at each yard visit the
boats are chosen as for a knapsack. It is the shortest path problem with resources that prices
columns in vehicle routing (Feillet 2010, doi 10.1007/s10288-010-0130-z, is a tutorial).

The days of the graph include all that a party can do and some that it cannot, such as days that
return to a site and look at the same boat twice. So the best value is never too low.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.planning.solver.day_graph import DayGraph, Move

Values = npt.NDArray[Any]  # whole numbers
Days = list[tuple[int, ...]]


def best_days(graph: DayGraph, gains: Sequence[int], most: int) -> tuple[int, Days]:
    """The gain of the best day, and good days, best first: boats in the order of looking.

    `gains`: by boat, whole numbers of 0 or more. A party with nothing fixed may stay at home, with
    a gain of 0. If fixed looks make every day impossible, the gain is far below zero.
    """
    values = _Values(graph, gains)
    ends = values.ends()
    best = ends[0][0] if ends else values.never
    days = [values.day(layer, row) for gain, layer, row in ends[:most] if gain > 0 or graph.fixed]
    return best if graph.fixed else max(best, 0), days


class _Values:
    """By layer, of shape (rows, minutes), the best value up to then: `there` when the party arrives
    at a yard visit or waits there, `done` after its looks.
    """

    def __init__(self, graph: DayGraph, gains: Sequence[int]) -> None:
        self.graph, self.gains = graph, gains
        self.minutes = [boat.minutes for boat in graph.problem.boats]
        self.dtype: Any = np.int32 if sum(gains) < 1 << 28 else np.int64
        self.never = int(np.iinfo(self.dtype).min) // 2
        self.waits = {
            then: _Wait(self, yard_visit, then) for then, yard_visit in graph.waits_at.items()
        }
        self.there: list[Values] = []
        self.done: list[Values] = []
        for layer in range(len(graph.layers)):
            self.there.append(self._there(layer))
            self.done.append(self._done(layer))

    def _there(self, at: int) -> Values:
        layer, width = self.graph.layers[at], self.graph.length + 1
        there = np.full((len(layer.rows), width), self.never, dtype=self.dtype)
        if at == 0:
            for row, (yard_visit, _) in enumerate(layer.rows):
                there[row, self.graph.out(yard_visit)[0] :] = 0
        for move in layer.drives:
            came = self.done[at - 1][move.before, : width - move.minutes]
            known = there[move.after, move.minutes :]
            there[move.after, move.minutes :] = np.maximum(known, came)
        return there

    def _done(self, at: int) -> Values:
        layer, done = self.graph.layers[at], self.there[at].copy()
        for yard_visit, rows in layer.of_yard_visit.items():
            if self.graph.yard_visits[yard_visit].fixed:
                self._look_as_fixed(done[rows], yard_visit)
            else:
                for boat in self.graph.yard_visits[yard_visit].boats:
                    self.look(done[rows], yard_visit, boat)
        for move in layer.waits:
            self.waits[move.then].add(self.there[at - 1], done, move)
        for yard_visit, rows in layer.of_yard_visit.items():
            closes = self.graph.span(yard_visit)[1]
            done[rows, closes:] = np.maximum(done[rows, closes:], done[rows, closes, None])
        return done

    def _look_as_fixed(self, value: Values, yard_visit: int) -> None:
        """At the fixed time, by all who are there by then; changes `value`."""
        opens, closes = self.graph.span(yard_visit)
        (boat,) = self.graph.yard_visits[yard_visit].boats
        value[:, closes:] = value[:, opens, None] + self.dtype(self.gains[boat])
        value[:, :closes] = self.never

    def look(self, value: Values, yard_visit: int, boat: int) -> None:
        """Let each row look at one more boat, or not; changes `value`."""
        opens, closes = self.graph.span(yard_visit)
        minutes = self.minutes[boat]
        looked = value[:, opens : closes - minutes + 1] + self.dtype(self.gains[boat])
        known = value[:, opens + minutes : closes + 1]
        np.maximum(known, looked, out=known)

    def ends(self) -> list[tuple[int, int, int]]:
        """The gain of each day that ends at home in time, with its layer and row, best first."""
        found = []
        for at, layer in enumerate(self.graph.layers):
            for row, (yard_visit, made) in enumerate(layer.rows):
                if made & self.graph.fixed == self.graph.fixed:
                    found.append((int(self.done[at][row, self._must_leave(yard_visit)]), at, row))
        possible = [end for end in found if end[0] > self.never // 2]
        return sorted(possible, key=lambda end: (-end[0], *end[1:]))

    def _must_leave(self, yard_visit: int) -> int:
        return self.graph.length - self.graph.home(yard_visit)[0]

    # --- Back from the end of a day to its beginning ------------------------------------------

    def day(self, at: int, row: int) -> tuple[int, ...]:
        """The boats of the day that ends with this row."""
        minute = self._must_leave(self.graph.layers[at].rows[row][0])
        order: list[int] = []
        while True:
            minute = _first(self.done[at][row], minute)
            waited = self._waited(at, row, minute)
            if waited is None:
                minute, boats = self._looked(at, row, minute)
            else:
                at, row, minute, boats = waited
            order = boats + order
            if at == 0:
                return tuple(order)
            at, row, minute = self._came(at, row, _first(self.there[at][row], minute))

    def _waited(self, at: int, row: int, minute: int) -> tuple[int, int, int, list[int]] | None:
        value = self.done[at][row, minute]
        for move in self.graph.layers[at].waits:
            for before in move.before[move.after == row]:
                there = self.there[at - 1][before]
                found = self.waits[move.then].retraced(there, minute, value)
                if found is not None:
                    return at - 1, int(before), *found
        return None

    def _looked(self, at: int, row: int, minute: int) -> tuple[int, list[int]]:
        """The minute at which the party was there for the first of these boats, and the boats."""
        yard_visit = self.graph.layers[at].rows[row][0]
        if self.graph.yard_visits[yard_visit].fixed:
            return self.graph.span(yard_visit)[0], list(self.graph.yard_visits[yard_visit].boats)
        boats, steps = self.graph.yard_visits[yard_visit].boats, [self.there[at][row]]
        for boat in boats:
            steps.append(steps[-1].copy())
            self.look(steps[-1][None], yard_visit, boat)
        order = []
        for boat, before, after in reversed(list(zip(boats, steps, steps[1:], strict=False))):
            if after[minute] > before[minute]:
                order.append(boat)
                minute -= self.minutes[boat]
        return minute, order

    def _came(self, at: int, row: int, minute: int) -> tuple[int, int, int]:
        value = self.there[at][row, minute]
        for move in self.graph.layers[at].drives:
            for before in move.before[move.after == row]:
                left = minute - move.minutes
                if left >= 0 and self.done[at - 1][before, left] == value:
                    return at - 1, int(before), left
        raise RuntimeError("this day has no beginning")


def _first(values: Values, minute: int) -> int:
    """The first minute with the same value as this one; values never fall."""
    return int(np.searchsorted(values, values[minute]))


class _Wait:
    """Looks at one site in its first two spans, with only a wait in between."""

    def __init__(self, values: _Values, yard_visit: int, then: int) -> None:
        graph = values.graph
        self.first, self.second = graph.span(yard_visit), graph.span(then)
        self.minutes, self.gains = values.minutes, values.gains
        self.boats = sorted({*graph.yard_visits[yard_visit].boats, *graph.yard_visits[then].boats})
        shape = [closes - opens + 1 for opens, closes in (self.first, self.second)]
        # By minutes left of the first span and minutes used of the second, one boat more each.
        self.steps = [np.zeros(shape, dtype=values.dtype)]
        for boat in self.boats:
            before, after = self.steps[-1], self.steps[-1].copy()
            minutes, gain = self.minutes[boat], values.dtype(self.gains[boat])
            early, late = after[minutes:], after[:, minutes:]
            np.maximum(early, before[: len(early)] + gain, out=early)
            np.maximum(late, before[:, : late.shape[1]] + gain, out=late)
            self.steps.append(after)

    def add(self, there: Values, done: Values, move: Move) -> None:
        """Add the days that waited to the values in the second span."""
        opens, closes = self.first
        came = there[move.before, opens : closes + 1]
        span = slice(self.second[0], self.second[1] + 1)
        known = done[move.after, span]
        # It is enough to begin at minutes where the value of some row rises.
        begin = [0, *(np.flatnonzero((came[:, 1:] > came[:, :-1]).any(axis=0)) + 1)]
        for minute in begin:
            gained = self.steps[-1][closes - opens - minute]
            np.maximum(known, came[:, minute, None] + gained, out=known)
        done[move.after, span] = known

    def retraced(self, there: Values, minute: int, value: int) -> tuple[int, list[int]] | None:
        """The minute at which the party was there for the first of these boats; None if no wait."""
        used = minute - self.second[0]
        opens, closes = self.first
        if not 0 <= used <= self.second[1] - self.second[0]:
            return None
        values = there[opens : closes + 1] + self.steps[-1][::-1, used]
        if values.max() < value:
            return None
        begins = opens + int(values.argmax())
        return begins, self._boats(closes - begins, used)

    def _boats(self, left: int, used: int) -> list[int]:
        early, late = [], []
        pairs = list(zip(self.boats, self.steps, self.steps[1:], strict=False))
        for boat, before, after in reversed(pairs):
            minutes, value = self.minutes[boat], after[left, used]
            if value == before[left, used]:
                continue
            if left >= minutes and before[left - minutes, used] + self.gains[boat] == value:
                early.append(boat)
                left -= minutes
            else:
                late.append(boat)
                used -= minutes
        return early + late
