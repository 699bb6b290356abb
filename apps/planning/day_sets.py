"""Which sites a party could call at on one day, and how many minutes of looking that leaves.

It is the relaxation that makes the bound of the solver tight: for each set of sites the most
minutes that could be spent looking, if looks could be cut to any length, with all driving and all
waiting for gates to open taken off. Worked out by dynamic programming over sets, as for the
travelling salesman (Held and Karp 1962, doi 10.1137/0110015), here through the minutes of the day.

Sets grow as powers of two, so that many sites are first drawn together into a few areas: an area is
open whenever one of its sites is, and as near as its nearest one. That only weakens the bound.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from apps.planning.problem import Problem

MOST_AREAS = 10
NEVER = -(10**6)

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class DaySet:
    """Areas called at, and the most minutes of looking in all of them together."""

    areas: frozenset[int]
    looking: int


@dataclass(frozen=True)
class DaySets:
    """`alone`: by area, the most minutes of looking there if the party goes nowhere else."""

    sets: tuple[DaySet, ...]
    alone: tuple[int, ...]


def areas_of(problem: Problem, sites: Sequence[int], most: int = MOST_AREAS) -> list[list[int]]:
    """The sites, drawn together nearest first until there are few enough areas."""
    areas = [[site] for site in sites]
    while len(areas) > most:
        pairs = [(a, b) for b in range(len(areas)) for a in range(b)]
        a, b = min(pairs, key=lambda pair: _apart(problem, areas[pair[0]], areas[pair[1]]))
        areas[a] += areas.pop(b)
    return areas


def _apart(problem: Problem, one: Sequence[int], other: Sequence[int]) -> int:
    return min(problem.metres[problem.place(a)][problem.place(b)] for a in one for b in other)


def day_sets(
    problem: Problem, party: int, areas: Sequence[Sequence[int]], boats: Sequence[int]
) -> DaySets:
    """Every set of areas that the party could call at, the empty one included.

    A set that another one covers, which leaves as much time, is left out.
    """
    theirs = [n for n in boats if party in problem.boats[n].by]
    quickest = [
        min(
            (problem.boats[n].minutes for n in theirs if problem.boats[n].site in area),
            default=None,
        )
        for area in areas
    ]
    day = _Day(problem, party, areas, theirs)
    looking, metres = day.most_looking(), day.least_metres()
    most_m = problem.parties[party].most_m
    possible: dict[int, int] = {}
    for members in range(1 << len(areas)):
        needed = [quickest[a] for a in range(len(areas)) if members >> a & 1]
        within = most_m is None or metres[members] <= most_m
        if within and None not in needed and looking[members] >= sum(n or 0 for n in needed):
            possible[members] = int(looking[members])
    sets = tuple(
        DaySet(frozenset(a for a in range(len(areas)) if members >> a & 1), minutes)
        for members, minutes in possible.items()
        if not any(
            possible.get(members | 1 << a, NEVER) >= minutes
            for a in range(len(areas))
            if not members >> a & 1
        )
    )
    return DaySets(sets, tuple(max(int(looking[1 << a]), 0) for a in range(len(areas))))


class _Day:
    """One party's day among areas. Sets are numbers whose bits are the areas in them."""

    def __init__(
        self,
        problem: Problem,
        party: int,
        areas: Sequence[Sequence[int]],
        boats: Sequence[int],
    ) -> None:
        who = problem.parties[party]
        self.length = max(who.back - who.leaves, 0)
        self.count = len(areas)
        self.sets = np.arange(1 << self.count)
        self.without = [self.sets[(self.sets >> a & 1) == 0] for a in range(self.count)]
        places = [[problem.place(site) for site in area] for area in areas]
        origin, home = [problem.origin(party)], [problem.home(party)]

        def table(of: Sequence[Sequence[int]], froms: object, tos: object) -> int:
            return min(of[a][b] for a in froms for b in tos)  # type: ignore[attr-defined]

        self.out = [table(problem.minutes, origin, to) for to in places]
        self.home = [table(problem.minutes, of, home) for of in places]
        self.between = [[table(problem.minutes, a, b) for b in places] for a in places]
        self.out_m = [table(problem.metres, origin, to) for to in places]
        self.home_m = [table(problem.metres, of, home) for of in places]
        self.between_m = [[table(problem.metres, a, b) for b in places] for a in places]
        self.open = np.zeros((self.count, self.length + 1), dtype=bool)
        for a, area in enumerate(areas):
            spans = [span for site in area for span in problem.sites[site].spans]
            spans += [
                (boat.fixed[1], boat.fixed[1] + boat.minutes)
                for n in boats
                if (boat := problem.boats[n]).fixed and boat.site in area
            ]
            for opens, closes in spans:
                self.open[a, max(opens - who.leaves, 0) : max(closes - who.leaves, 0)] = True

    def most_looking(self) -> Ints:
        """By set: the most minutes in open areas between setting off and being back, having been
        in each of them; `NEVER` where that cannot be."""
        # best[minute][where][set]: minutes looked so far.
        best = np.full((self.length + 1, self.count, len(self.sets)), NEVER, dtype=np.int32)
        for a in range(self.count):
            if self.out[a] <= self.length:
                best[self.out[a], a, 1 << a] = 0
        for minute in range(self.length):
            now, then = best[minute], best[minute + 1]
            np.maximum(then, now + self.open[:, minute, None], out=then)
            for a in range(self.count):
                if now[a].max() >= 0:
                    self._drive_on(best, minute, a)
        done = np.full(len(self.sets), NEVER, dtype=np.int64)
        done[0] = 0
        for a in range(self.count):
            if self.home[a] <= self.length:
                np.maximum(done, best[self.length - self.home[a], a], out=done)
        return done

    def _drive_on(self, best: npt.NDArray[np.int32], minute: int, a: int) -> None:
        here = best[minute, a]
        for b in range(self.count):
            arrives = minute + self.between[a][b]
            if a == b or arrives > self.length:
                continue
            new, old = self.without[b], self.without[b] | 1 << b
            there = best[arrives, b]
            there[old] = np.maximum(there[old], np.maximum(here[new], here[old]))

    def least_metres(self) -> Ints:
        """By set: the shortest tour through all of its areas."""
        far = np.iinfo(np.int64).max // 4
        way = np.full((len(self.sets), self.count), far, dtype=np.int64)
        for a in range(self.count):
            way[1 << a, a] = self.out_m[a]
        leg = np.array(self.between_m, dtype=np.int64)
        for members in range(1, len(self.sets)):
            onward = (way[members][:, None] + leg).min(axis=0)
            for b in range(self.count):
                if not members >> b & 1:
                    wider = members | 1 << b
                    way[wider, b] = min(way[wider, b], onward[b])
        tours: Ints = (way + np.array(self.home_m, dtype=np.int64)).min(axis=1)
        tours[0] = 0
        return tours
