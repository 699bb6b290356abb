"""An upper bound on the value of any plan, and days from which to make a good plan.

Column generation (Dantzig and Wolfe 1960, doi 10.1287/opre.8.1.101; for this kind of problem
Boussier, Feillet and Gendreau 2007, doi 10.1007/s10288-006-0009-1): a look at each boat has a
price, and the best days of each party at those prices are found. A linear program then mixes the
best plan from all days found so far, which gives new prices. At any prices, the sum of the prices
and of the parties' best gains is an upper bound on the value of any plan (Lagrange).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy  # its parts are loaded on first use
from ortools.sat.python import cp_model

from apps.planning.solver.baselines import best_insertion, kept_only
from apps.planning.solver.day_graph import day_graph
from apps.planning.solver.one_day import best_days
from apps.planning.solver.problem import Problem, Route
from apps.planning.solver.routing import solver_for
from apps.planning.solver.schedules import route_of

ROUNDS = 40
CLOSE = 0.001  # part of the bound: more rounds would gain little
DAYS_A_ROUND = 30  # for each party
HOLD = 0.5  # weight of the best prices so far, so that prices do not oscillate
GRID = 64  # parts of a unit of value: prices are whole numbers of them, so the bound is exact

Own = tuple[int, tuple[int, ...]]  # a party and the boats of its day, in order
Values = npt.NDArray[np.int64]


@dataclass(frozen=True)
class PricedDays:
    """`bound`: no plan is worth more. `days`: from which to make a plan; some may be impossible."""

    bound: int
    days: tuple[Own, ...] = ()


def priced(problem: Problem, hopeful: Sequence[int]) -> PricedDays:
    """The bound, after rounds until it hardly falls, and the days found."""
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
            hold = 0  # prices in between give no more
        else:
            break
        mixed, gains = _mixed(problem, list(days), value)
        if bound - mixed <= CLOSE * bound:
            break
    return PricedDays(min(bound or 0, int(value.sum())) // GRID, tuple(days))


def _mixed(problem: Problem, days: Sequence[Own], value: Values) -> tuple[float, Values]:
    """The value of the best mixture of days, and the value that one more look at each boat adds.

    Variables: the part of each day that is driven, and the part of each boat that is seen. A boat
    is seen no more than the driven days look at it, and a party drives no more than one day.
    """
    parties, boats = len(problem.parties), len(problem.boats)
    uses = np.zeros((parties + boats, len(days) + boats))
    for column, (party, order) in enumerate(days):
        uses[party, column] = 1
        for boat in order:
            uses[parties + boat, column] -= 1
    uses[parties:, len(days) :] = np.eye(boats)
    found = scipy.optimize.linprog(
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
    """One of these days for each party, with the highest total value, and further looks that fit.

    Two days may share a boat: one party then leaves her out. `kept_only` must be possible.
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
