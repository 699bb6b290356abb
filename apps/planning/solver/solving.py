"""The day plan with the highest value, and an upper bound on the value of any plan.

A team orienteering problem with time windows: several parties, each with a start, hours and a
range, choose among boats that lie at few sites (Vansteenwegen, Souffriau and Van Oudheusden 2011,
doi 10.1016/j.ejor.2010.03.045, survey the family). In three steps:

1. `pricing` finds good days of each party and the bound, and makes a plan from those days;
2. `routing` plans each party's day again among only the sites of that plan;
3. unless that reaches the bound, `routing` searches all sites, if they are few enough.

Deterministic: strategies in fixed turns, a fixed seed, and an effort counted in operations instead
of seconds.
"""

from collections.abc import Sequence

from apps.planning.solver.baselines import best_insertion, fixed_order, kept_only
from apps.planning.solver.pricing import best_together, priced
from apps.planning.solver.problem import BoatToVisit, Infeasible, Problem, Route, Solution, Why
from apps.planning.solver.routing import Routing
from apps.planning.solver.schedules import best_first, merit, route_of, value_of

# Effort of each step, in the solver's own unit, which is some seconds of one core.
EFFORT = 2.0
# With more arcs than this, the whole model finds nothing in such time.
MOST_ARCS = 500


def solve(problem: Problem, *, effort: float = EFFORT) -> Solution:
    """The most valuable plan found, never worse than that of best insertion, and of equal plans one
    with less driving. Raises `Infeasible` if the fixed looks cannot be kept.
    """
    broken = [party for party, route in enumerate(kept_only(problem)) if route is None]
    if broken:
        raise Infeasible([n for party in broken for n in fixed_order(problem, party)])
    alone = {n: why_not_alone(problem, n) for n in range(len(problem.boats))}
    hopeful = [n for n, why in alone.items() if why is None]
    routes, bound = _planned(problem, hopeful, effort)
    seen = {stop.boat for route in routes for stop in route.stops}
    left_out = {n: why or Why.OTHERS_WORTH_MORE for n, why in alone.items() if n not in seen}
    return Solution(tuple(routes), value_of(problem, routes), bound, left_out)


def _planned(problem: Problem, hopeful: Sequence[int], effort: float) -> tuple[list[Route], int]:
    found = priced(problem, hopeful)
    bound = found.bound
    plans = [best_insertion(problem), best_together(problem, found.days, effort)]
    routes = max(plans, key=lambda plan: merit(problem, plan))
    if value_of(problem, routes) < bound:
        among_these = Routing(problem, hopeful, _visited_at(problem, routes))
        routes, _ = among_these.most_valuable(routes, effort)
    if value_of(problem, routes) < bound:
        everywhere = Routing(problem, hopeful)
        if len(everywhere.arcs) <= MOST_ARCS:
            routes, of_routing = everywhere.most_valuable(routes, effort)
            bound = bound if of_routing is None else min(bound, of_routing)
    among_these = Routing(problem, hopeful, _visited_at(problem, routes))
    routes = among_these.least_driving(routes, effort / 4)
    routes = [best_first(problem, route) for route in routes]
    return routes, max(bound, value_of(problem, routes))


def _visited_at(problem: Problem, routes: Sequence[Route]) -> list[frozenset[int]]:
    return [frozenset(problem.boats[stop.boat].site for stop in route.stops) for route in routes]


# --- Why a boat cannot be in any plan ------------------------------------------------------------


def why_not_alone(problem: Problem, number: int) -> Why | None:
    """Why no party could look at this boat even if it did nothing else; None if one could."""
    boat = problem.boats[number]
    if boat.fixed is not None:
        return None
    if not boat.by:
        return Why.NOBODY_MAY
    if boat.value <= 0:
        return Why.NO_VALUE
    if not problem.sites[boat.site].spans:
        return Why.CLOSED
    if any(_can_fit(problem, party, number) for party in boat.by):
        return None
    if not any(_within_reach(problem, party, boat) for party in boat.by):
        return Why.OUT_OF_REACH
    return Why.NO_TIME


def _can_fit(problem: Problem, party: int, number: int) -> bool:
    """Whether she fits beside the party's fixed looks and nothing else."""
    order = fixed_order(problem, party)
    return any(
        route_of(problem, party, [*order[:at], number, *order[at:]]) is not None
        for at in range(len(order) + 1)
    )


def _within_reach(problem: Problem, party: int, boat: BoatToVisit) -> bool:
    there, most = problem.place(boat.site), problem.parties[party].most_m
    way = problem.metres[problem.origin(party)][there] + problem.metres[there][problem.home(party)]
    return most is None or way <= most
