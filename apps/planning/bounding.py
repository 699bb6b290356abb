"""How much a plan can be worth at most, and which sites are for whom in a plan worth that much.

The times within the day are left out: each party takes one of its day sets and looks at boats there
for as long as that set leaves. What this relaxation is worth, no plan can beat.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from ortools.sat.python import cp_model

from apps.planning.day_sets import areas_of, day_sets
from apps.planning.problem import Problem

SEED = 7


@dataclass(frozen=True)
class Outline:
    """`bound`: no plan is worth more. `sites`, `boats`: whose they are in the best relaxed plan."""

    bound: int
    sites: tuple[frozenset[int], ...] = ()
    boats: tuple[frozenset[int], ...] = ()


def outline(problem: Problem, hopeful: Sequence[int], effort: float) -> Outline:
    """The bound, and the sites by party; no sites if the effort did not suffice to find any."""
    if not hopeful:
        return Outline(0)
    model = cp_model.CpModel()
    areas = areas_of(problem, sorted({problem.boats[n].site for n in hopeful}))
    area_of = {site: a for a, area in enumerate(areas) for site in area}
    seen: dict[int, list[cp_model.IntVar]] = {n: [] for n in hopeful}
    whose: list[dict[int, cp_model.IntVar]] = [{} for _ in problem.parties]
    chosen = []
    for party in range(len(problem.parties)):
        possible = day_sets(problem, party, areas, hopeful)
        sets = [
            (one, model.new_bool_var(f"set {party} {sorted(one.areas)}")) for one in possible.sets
        ]
        model.add_exactly_one(taken for _, taken in sets)
        there = [
            sum(taken for one, taken in sets if area in one.areas) for area in range(len(areas))
        ]
        looking: list[list[cp_model.LinearExpr]] = [[] for _ in areas]
        for number in hopeful:
            boat = problem.boats[number]
            if party in boat.by:
                area = area_of[boat.site]
                look = model.new_bool_var(f"look {party} {number}")
                seen[number].append(look)
                whose[party][number] = look
                looking[area].append(boat.minutes * look)
                model.add(look <= there[area])
        for area, minutes in enumerate(looking):
            model.add(sum(minutes) <= possible.alone[area] * there[area])
        all_minutes = sum(one for minutes in looking for one in minutes)
        model.add(all_minutes <= sum(one.looking * taken for one, taken in sets))
        chosen.append(sets)
    for number, looks in seen.items():
        if problem.boats[number].fixed is not None:
            model.add_exactly_one(looks)
        else:
            model.add_at_most_one(looks)
    for better, worse in alike(problem, hopeful):
        model.add(sum(seen[better]) >= sum(seen[worse]))
    model.maximize(sum(problem.boats[n].worth * look for n in hopeful for look in seen[n]))
    solver = solver_for(effort)
    status = solver.solve(model)
    total = sum(problem.boats[n].worth for n in hopeful)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Outline(total)
    return Outline(
        min(total, whole(solver.best_objective_bound)),
        tuple(
            frozenset(
                site
                for one, taken in sets
                if solver.boolean_value(taken)
                for a in one.areas
                for site in areas[a]
            )
            for sets in chosen
        ),
        tuple(
            frozenset(n for n, look in looks.items() if solver.boolean_value(look))
            for looks in whose
        ),
    )


def alike(problem: Problem, hopeful: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs of boats at one site that differ in worth only: the better one and the next.

    No plan needs the one worth less without the one worth more.
    """
    kinds: dict[tuple[int, int, frozenset[int]], list[int]] = {}
    for number in sorted(hopeful, key=lambda n: (-problem.boats[n].worth, n)):
        boat = problem.boats[number]
        if boat.fixed is None:
            kinds.setdefault((boat.site, boat.minutes, boat.by), []).append(number)
    return [pair for kind in kinds.values() for pair in pairwise(kind)]


def solver_for(effort: float) -> cp_model.CpSolver:
    """One that gives the same answer every time, on whatever machine."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = SEED
    solver.parameters.max_deterministic_time = effort
    solver.parameters.linearization_level = 2
    return solver


def whole(bound: float) -> int:
    """A bound on whole numbers, past what its last digits are off."""
    return int(bound + 1e-6 * max(1.0, abs(bound)) ** 0.5)
