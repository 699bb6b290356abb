"""Plans without a solver: its starting plans, and those it is compared with."""

from collections.abc import Iterator, Sequence

from apps.planning.solver.problem import Problem, Route
from apps.planning.solver.schedules import route_of


def kept_only(problem: Problem) -> list[Route | None]:
    """Each party with its fixed looks alone; None if they cannot be kept."""
    return [
        route_of(problem, party, fixed_order(problem, party))
        for party in range(len(problem.parties))
    ]


def fixed_order(problem: Problem, party: int) -> list[int]:
    """The boats that are fixed for the party, ordered by their fixed times."""
    theirs = [
        (boat.fixed[1], number)
        for number, boat in enumerate(problem.boats)
        if boat.fixed and boat.fixed[0] == party
    ]
    return [number for _, number in sorted(theirs)]


def best_insertion(problem: Problem, start: Sequence[Route] = ()) -> list[Route]:
    """Insert boats one by one, always the one with the highest value for her time.

    Begins with these routes, or with the fixed looks, which must be possible.
    """
    routes = list(start) or [route or Route(n) for n, route in enumerate(kept_only(problem))]
    left = {n for n, boat in enumerate(problem.boats) if boat.fixed is None and boat.value > 0}
    left -= {stop.boat for route in routes for stop in route.stops}
    # Of similar boats at one site only the most valuable is tried: the others come after her.
    while True:
        found = max(_insertions(problem, routes, left), key=lambda one: one[0], default=None)
        if found is None:
            return routes
        _, number, route = found
        routes[route.party] = route
        left.discard(number)


def _insertions(
    problem: Problem, routes: list[Route], left: set[int]
) -> Iterator[tuple[tuple[float, int], int, Route]]:
    for number in first_of_each_kind(problem, left):
        boat = problem.boats[number]
        for party in sorted(boat.by):
            route = routes[party]
            order = [stop.boat for stop in route.stops]
            length = _length(route)
            for at in range(len(order) + 1):
                with_her = route_of(problem, party, [*order[:at], number, *order[at:]])
                if with_her is not None:
                    longer = max(_length(with_her) - length, 1)
                    yield (boat.value / longer, -number), number, with_her


def _length(route: Route) -> int:
    return route.back - route.sets_off


def first_of_each_kind(problem: Problem, among: set[int]) -> list[int]:
    """Of boats at one site with equal minutes and parties, only the most valuable: no plan needs
    another one before her.
    """
    best: dict[tuple[int, int, frozenset[int]], int] = {}
    for number in sorted(among, key=lambda n: (-problem.boats[n].value, n)):
        boat = problem.boats[number]
        best.setdefault((boat.site, boat.minutes, boat.by), number)
    return sorted(best.values())
