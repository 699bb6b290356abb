"""The day of one party that is worth most when each look gains what its boat is given.

Dynamic programming over the rows of `day_graph`: along each row run the minutes of the day, and at
a call the boats are chosen as for a knapsack. It is the shortest path with resources by which
vehicle routing prices columns (Feillet 2010, doi 10.1007/s10288-010-0130-z, is a tutorial).

The days of the graph are all that a party can do and some that it cannot, among them days that look
at a boat twice, where they come back to her site. So the best is never worth too little.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from apps.planning.day_graph import DayGraph, Move

Worths = npt.NDArray[Any]  # whole numbers
Days = list[tuple[int, ...]]


def best_days(graph: DayGraph, gains: Sequence[int], most: int) -> tuple[int, Days]:
    """What the best day gains, and good days, the best first: boats in the order of looking.

    `gains`: by boat, in whole numbers and never negative. A party with nothing fixed may stay at
    home, which gains nothing. Without any possible day, which only what is fixed can bring about,
    the best is far below zero.
    """
    worths = _Worths(graph, gains)
    ends = worths.ends()
    best = ends[0][0] if ends else worths.never
    days = [worths.day(layer, row) for gain, layer, row in ends[:most] if gain > 0 or graph.fixed]
    return best if graph.fixed else max(best, 0), days


class _Worths:
    """By layer, of shape (rows, minutes), what days are worth until then: `there` as the party
    comes to a call or waits there, `done` after the looks it makes."""

    def __init__(self, graph: DayGraph, gains: Sequence[int]) -> None:
        self.graph, self.gains = graph, gains
        self.minutes = [boat.minutes for boat in graph.problem.boats]
        self.dtype: Any = np.int32 if sum(gains) < 1 << 28 else np.int64
        self.never = int(np.iinfo(self.dtype).min) // 2
        self.waits = {then: _Wait(self, call, then) for then, call in graph.waits_at.items()}
        self.there: list[Worths] = []
        self.done: list[Worths] = []
        for layer in range(len(graph.layers)):
            self.there.append(self._there(layer))
            self.done.append(self._done(layer))

    def _there(self, at: int) -> Worths:
        layer, width = self.graph.layers[at], self.graph.length + 1
        there = np.full((len(layer.rows), width), self.never, dtype=self.dtype)
        if at == 0:
            for row, (call, _) in enumerate(layer.rows):
                there[row, self.graph.out(call)[0] :] = 0
        for move in layer.drives:
            came = self.done[at - 1][move.before, : width - move.minutes]
            known = there[move.after, move.minutes :]
            there[move.after, move.minutes :] = np.maximum(known, came)
        return there

    def _done(self, at: int) -> Worths:
        layer, done = self.graph.layers[at], self.there[at].copy()
        for call, rows in layer.of_call.items():
            if self.graph.calls[call].fixed:
                self._look_as_fixed(done[rows], call)
            else:
                for boat in self.graph.calls[call].boats:
                    self.look(done[rows], call, boat)
        for move in layer.waits:
            self.waits[move.then].add(self.there[at - 1], done, move)
        for call, rows in layer.of_call.items():
            closes = self.graph.span(call)[1]
            done[rows, closes:] = np.maximum(done[rows, closes:], done[rows, closes, None])
        return done

    def _look_as_fixed(self, worth: Worths, call: int) -> None:
        """At the time that is fixed, by all who are there by then; changes `worth`."""
        opens, closes = self.graph.span(call)
        (boat,) = self.graph.calls[call].boats
        worth[:, closes:] = worth[:, opens, None] + self.dtype(self.gains[boat])
        worth[:, :closes] = self.never

    def look(self, worth: Worths, call: int, boat: int) -> None:
        """Let each row look at one more boat, or not; changes `worth`."""
        opens, closes = self.graph.span(call)
        minutes = self.minutes[boat]
        looked = worth[:, opens : closes - minutes + 1] + self.dtype(self.gains[boat])
        known = worth[:, opens + minutes : closes + 1]
        np.maximum(known, looked, out=known)

    def ends(self) -> list[tuple[int, int, int]]:
        """What each day gains that ends at home in time, with its layer and row, best first."""
        found = []
        for at, layer in enumerate(self.graph.layers):
            for row, (call, made) in enumerate(layer.rows):
                if made & self.graph.fixed == self.graph.fixed:
                    found.append((int(self.done[at][row, self._must_leave(call)]), at, row))
        possible = [end for end in found if end[0] > self.never // 2]
        return sorted(possible, key=lambda end: (-end[0], *end[1:]))

    def _must_leave(self, call: int) -> int:
        return self.graph.length - self.graph.home(call)[0]

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
        worth = self.done[at][row, minute]
        for move in self.graph.layers[at].waits:
            for before in move.before[move.after == row]:
                there = self.there[at - 1][before]
                found = self.waits[move.then].retraced(there, minute, worth)
                if found is not None:
                    return at - 1, int(before), *found
        return None

    def _looked(self, at: int, row: int, minute: int) -> tuple[int, list[int]]:
        """When the party was there for the first of these boats."""
        call = self.graph.layers[at].rows[row][0]
        if self.graph.calls[call].fixed:
            return self.graph.span(call)[0], list(self.graph.calls[call].boats)
        boats, steps = self.graph.calls[call].boats, [self.there[at][row]]
        for boat in boats:
            steps.append(steps[-1].copy())
            self.look(steps[-1][None], call, boat)
        order = []
        for boat, before, after in reversed(list(zip(boats, steps, steps[1:], strict=False))):
            if after[minute] > before[minute]:
                order.append(boat)
                minute -= self.minutes[boat]
        return minute, order

    def _came(self, at: int, row: int, minute: int) -> tuple[int, int, int]:
        worth = self.there[at][row, minute]
        for move in self.graph.layers[at].drives:
            for before in move.before[move.after == row]:
                left = minute - move.minutes
                if left >= 0 and self.done[at - 1][before, left] == worth:
                    return at - 1, int(before), left
        raise RuntimeError("a day without a beginning")


def _first(worths: Worths, minute: int) -> int:
    """The first minute from which on it is worth what it is at this one; worths never fall."""
    return int(np.searchsorted(worths, worths[minute]))


class _Wait:
    """Looks at one site in its first two spans, with nothing in between but to wait."""

    def __init__(self, worths: _Worths, call: int, then: int) -> None:
        graph = worths.graph
        self.first, self.second = graph.span(call), graph.span(then)
        self.minutes, self.gains = worths.minutes, worths.gains
        self.boats = sorted({*graph.calls[call].boats, *graph.calls[then].boats})
        shape = [closes - opens + 1 for opens, closes in (self.first, self.second)]
        # By minutes left of the first span and minutes used of the second, one boat more each.
        self.steps = [np.zeros(shape, dtype=worths.dtype)]
        for boat in self.boats:
            before, after = self.steps[-1], self.steps[-1].copy()
            minutes, gain = self.minutes[boat], worths.dtype(self.gains[boat])
            early, late = after[minutes:], after[:, minutes:]
            np.maximum(early, before[: len(early)] + gain, out=early)
            np.maximum(late, before[:, : late.shape[1]] + gain, out=late)
            self.steps.append(after)

    def add(self, there: Worths, done: Worths, move: Move) -> None:
        """To what days are worth in the second span, those that were there in the first."""
        opens, closes = self.first
        came = there[move.before, opens : closes + 1]
        span = slice(self.second[0], self.second[1] + 1)
        known = done[move.after, span]
        # It is enough to begin where some row has just become worth more.
        begin = [0, *(np.flatnonzero((came[:, 1:] > came[:, :-1]).any(axis=0)) + 1)]
        for minute in begin:
            gained = self.steps[-1][closes - opens - minute]
            np.maximum(known, came[:, minute, None] + gained, out=known)
        done[move.after, span] = known

    def retraced(self, there: Worths, minute: int, worth: int) -> tuple[int, list[int]] | None:
        """When the party was there for the first of these boats; None if it did not wait."""
        used = minute - self.second[0]
        opens, closes = self.first
        if not 0 <= used <= self.second[1] - self.second[0]:
            return None
        worths = there[opens : closes + 1] + self.steps[-1][::-1, used]
        if worths.max() < worth:
            return None
        begins = opens + int(worths.argmax())
        return begins, self._boats(closes - begins, used)

    def _boats(self, left: int, used: int) -> list[int]:
        early, late = [], []
        pairs = list(zip(self.boats, self.steps, self.steps[1:], strict=False))
        for boat, before, after in reversed(pairs):
            minutes, worth = self.minutes[boat], after[left, used]
            if worth == before[left, used]:
                continue
            if left >= minutes and before[left - minutes, used] + self.gains[boat] == worth:
                early.append(boat)
                left -= minutes
            else:
                late.append(boat)
                used -= minutes
        return early + late
