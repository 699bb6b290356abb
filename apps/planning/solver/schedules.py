"""Whether a party can look at boats in an order, and the earliest times for it."""

from collections.abc import Sequence
from itertools import groupby

from apps.planning.solver.problem import Problem, Route, Stop


def earliest(problem: Problem, site: int, ready: int, minutes: int) -> int | None:
    """The first start from `ready` on at which a look of this length fits in a span."""
    for opens, closes in problem.sites[site].spans:
        starts = max(opens, ready)
        if starts + minutes <= closes:
            return starts
    return None


def route_of(problem: Problem, party: int, order: Sequence[int]) -> Route | None:
    """The party's day with these boats in this order; None if it is impossible.

    Each look begins as early as it can, which leaves most time for the rest. The party sets off
    just in time for the first.
    """
    who = problem.parties[party]
    here, now, metres = problem.origin(party), who.leaves, 0
    stops: list[Stop] = []
    for number in order:
        boat = problem.boats[number]
        there = problem.place(boat.site)
        leg, drive = problem.metres[here][there], problem.minutes[here][there]
        starts = _starts(problem, party, number, now + drive)
        if starts is None:
            return None
        stops.append(Stop(number, starts, starts + boat.minutes, leg, drive))
        here, now, metres = there, starts + boat.minutes, metres + leg
    if not stops:
        return Route(party)
    home = problem.home(party)
    back, metres = now + problem.minutes[here][home], metres + problem.metres[here][home]
    if back > who.back or (who.most_m is not None and metres > who.most_m):
        return None
    return Route(party, tuple(stops), stops[0].starts - stops[0].drive, back, metres)


def _starts(problem: Problem, party: int, number: int, ready: int) -> int | None:
    boat = problem.boats[number]
    if party not in boat.by:
        return None
    if boat.fixed is None:
        return earliest(problem, boat.site, ready, boat.minutes)
    by, at = boat.fixed
    return at if by == party and ready <= at else None


def value_of(problem: Problem, routes: Sequence[Route]) -> int:
    return sum(problem.boats[stop.boat].value for route in routes for stop in route.stops)


def merit(problem: Problem, routes: Sequence[Route]) -> tuple[int, int]:
    """Plans are compared by value, then by less driving."""
    return value_of(problem, routes), -sum(route.metres for route in routes)


def best_first(problem: Problem, route: Route) -> Route:
    """The route with the boats of each yard in order of value, if possible: a day may end sooner
    than planned.
    """
    order: list[int] = []
    for _, stops in groupby(route.stops, key=lambda stop: problem.boats[stop.boat].site):
        together = [stop.boat for stop in stops]
        order += sorted(together, key=lambda n: (-problem.boats[n].value, n))
    return route_of(problem, route.party, order) or route
