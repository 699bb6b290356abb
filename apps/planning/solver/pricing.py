"""How much a plan can be worth at most, and days of the parties to make a good plan of.

Column generation (Dantzig and Wolfe 1960, doi 10.1287/opre.8.1.101; for this kind of problem
Boussier, Feillet and Gendreau 2007, doi 10.1007/s10288-006-0009-1): a look at each boat is given a
price, each party finds the days that are best at those prices, and out of all days found so far a
linear program mixes the best plan, which tells new prices. At any prices, what is paid for all
boats and what the parties gain at most are together no less than any plan is worth (Lagrange).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from ortools.sat.python import cp_model
from scipy import optimize

from apps.planning.solver.baselines import best_insertion, kept_only
from apps.planning.solver.day_graph import day_graph
from apps.planning.solver.one_day import best_days
from apps.planning.solver.problem import Problem, Route
from apps.planning.solver.routing import solver_for
from apps.planning.solver.schedules import route_of

ROUNDS = 40
CLOSE = 0.001  # of the bound: more rounds would gain little
DAYS_A_ROUND = 30  # of each party
HOLD = 0.5  # of the best prices so far in the next ones, lest they swing
GRID = 64  # parts of a unit of worth: prices are whole numbers of them, so that the bound is exact

Own = tuple[int, tuple[int, ...]]  # a party and the boats of its day, in order
Values = npt.NDArray[np.int64]


@dataclass(frozen=True)
class PricedDays:
    """`bound`: no plan is worth more. `days`: what to make a plan of; not every one of them is
    possible."""

    bound: int
    days: tuple[Own, ...] = ()


def priced(problem: Problem, hopeful: Sequence[int]) -> PricedDays:
    """The bound after as many rounds as it takes until it hardly sinks, and the days found."""
    if not hopeful:
        return PricedDays(0)
    graphs = [day_graph(problem, party, hopeful) for party in range(len(problem.parties))]
    value = np.zeros(len(problem.boats), dtype=np.int64)
    value[list(hopeful)] = [GRID * problem.boats[n].value for n in hopeful]
    days: dict[Own, None] = {}
    bound, held, hold = None, value, HOLD
    gains = value
    for _ in range(ROUNDS):
        gains = np.rint(hold * held + (1 - hold) * gains).astype(np.int64)
        known = len(days)
        total = int((value - gains).sum())
        for party, graph in enumerate(graphs):
            best, found = best_days(graph, gains.tolist(), DAYS_A_ROUND)
            total += best
            days.update(((party, order), None) for order in found)
        if bound is None or total < bound:
            bound, held, hold = total, gains, HOLD
        elif len(days) > known:
            hold = HOLD
        elif hold:
            hold = 0  # nothing comes of prices in between
        else:
            break
        mixed, gains = _mixed(problem, list(days), value)
        if bound - mixed <= CLOSE * bound:
            break
    return PricedDays(min(bound or 0, int(value.sum())) // GRID, tuple(days))


def _mixed(problem: Problem, days: Sequence[Own], value: Values) -> tuple[float, Values]:
    """The worth of the best mixture of days, and what one more look at each boat would add to it.

    Variables: how much of each day is driven, and how much of each boat is seen. A boat is seen no
    more than it is looked at on the days that are driven, and a party drives no more than one day.
    """
    parties, boats = len(problem.parties), len(problem.boats)
    uses = np.zeros((parties + boats, len(days) + boats))
    for column, (party, order) in enumerate(days):
        uses[party, column] = 1
        for boat in order:
            uses[parties + boat, column] -= 1
    uses[parties:, len(days) :] = np.eye(boats)
    found = optimize.linprog(
        np.concatenate([np.zeros(len(days)), -value]),
        A_ub=uses,
        b_ub=np.concatenate([np.ones(parties), np.zeros(boats)]),
        bounds=[(0, 1)] * (len(days) + boats),
        method="highs-ds",
    )
    if found.x is None:
        raise RuntimeError(f"the mixture of days was not found: {found.message}")
    adds = np.rint(-found.ineqlin.marginals[parties:]).astype(np.int64)
    return float(value @ found.x[len(days) :]), np.clip(adds, 0, value)


def best_together(problem: Problem, days: Sequence[Own], effort: float) -> list[Route]:
    """One of these days for each party, together worth most, and what still fits in between.

    Two days may share a boat: one of the parties then leaves her out. `kept_only` must be possible.
    """
    model = cp_model.CpModel()
    possible: list[tuple[Route, cp_model.IntVar]] = []
    for party, order in days:
        route = route_of(problem, party, list(dict.fromkeys(order)))
        if route is not None:
            possible.append((route, model.new_bool_var("")))
    for party in range(len(problem.parties)):
        model.add_at_most_one(taken for route, taken in possible if route.party == party)
    looks: dict[int, list[cp_model.IntVar]] = {}
    for route, taken in possible:
        for stop in route.stops:
            looks.setdefault(stop.boat, []).append(taken)
    seen = {boat: model.new_bool_var("") for boat in looks}
    for boat, taken_by in looks.items():
        model.add(seen[boat] <= sum(taken_by))
    model.maximize(sum(problem.boats[boat].value * one for boat, one in seen.items()))
    solver = solver_for(effort)
    routes = [route or Route(party) for party, route in enumerate(kept_only(problem))]
    if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        for route, taken in possible:
            if solver.boolean_value(taken):
                routes[route.party] = route
    return best_insertion(problem, _each_boat_once(problem, routes))


def _each_boat_once(problem: Problem, routes: Sequence[Route]) -> list[Route]:
    seen: set[int] = set()
    kept = []
    for route in routes:
        order = [stop.boat for stop in route.stops if stop.boat not in seen]
        seen.update(order)
        kept.append(route_of(problem, route.party, order) or Route(route.party))
    return kept
