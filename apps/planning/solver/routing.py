"""The routes: which yard visits each party makes, in which order, and the looks there.

Constraint programming (OR-tools CP-SAT): a circuit through the yard visits of each party, with
times, and each boat looked at once at most.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise, product

from ortools.sat.python import cp_model

from apps.planning.solver.problem import Problem, Route
from apps.planning.solver.schedules import merit, route_of, value_of
from apps.planning.solver.yard_visits import YardVisit, yard_visits_of

SEED = 7
STRATEGIES = 8
HOME = -1  # in place of a yard visit, at both ends of a circuit


class Routing:
    """A model of the problem with all of its sites, or with some sites for each party."""

    def __init__(
        self,
        problem: Problem,
        hopeful: Sequence[int],
        sites: Sequence[frozenset[int]] = (),
    ) -> None:
        self.problem = problem
        self.hopeful = list(hopeful)
        self.model = cp_model.CpModel()
        self.yard_visits: list[YardVisit] = []
        self.starts: list[cp_model.IntVar] = []
        self.used: list[cp_model.IntVar] = []
        self.lasts: list[cp_model.LinearExpr] = []
        self.looks: dict[tuple[int, int], cp_model.IntVar] = {}  # by boat and yard visit
        self.arcs: dict[
            tuple[int, int, int], cp_model.IntVar
        ] = {}  # by party, yard visit and next yard visit
        self.metres: list[cp_model.LinearExpr] = []
        for party in range(len(problem.parties)):
            self._party(party, sites[party] if sites else None)
        self._each_boat_once()
        self.value = sum(problem.boats[boat].value * look for (boat, _), look in self.looks.items())

    # --- Building ----------------------------------------------------------------------------

    def _party(self, party: int, sites: frozenset[int] | None) -> None:
        theirs = [n for n in self.hopeful if sites is None or self.problem.boats[n].site in sites]
        first = len(self.yard_visits)
        self.yard_visits += yard_visits_of(self.problem, party, theirs)
        own = range(first, len(self.yard_visits))
        for number in own:
            self._yard_visit(number)
        self._circuit(party, own)
        for earlier, later in pairwise(own):
            if self.yard_visits[earlier].again(self.yard_visits[later]):
                self.model.add_implication(self.used[later], self.used[earlier])
                self.model.add(self.starts[earlier] <= self.starts[later])

    def _yard_visit(self, number: int) -> None:
        """Its start, its length by the looks made, and whether it is made."""
        yard_visit, model = self.yard_visits[number], self.model
        opens, closes = yard_visit.span
        start = model.new_int_var(opens, closes, f"start {number}")
        used = model.new_bool_var(f"used {number}")
        looks = [model.new_bool_var(f"look {boat} {number}") for boat in yard_visit.boats]
        for boat, look in zip(yard_visit.boats, looks, strict=True):
            self.looks[boat, number] = look
            model.add_implication(look, used)
        model.add_bool_or([*looks, used.negated()])
        minutes = [self.problem.boats[boat].minutes for boat in yard_visit.boats]
        lasts = cp_model.LinearExpr.weighted_sum(looks, minutes)
        model.add(start + lasts <= closes)
        self.starts.append(start)
        self.used.append(used)
        self.lasts.append(lasts)

    def _circuit(self, party: int, own: range) -> None:
        """From home through the yard visits that are made and back, within hours and range."""
        who, model = self.problem.parties[party], self.model
        at_home = model.new_bool_var(f"home {party}")
        node = {HOME: 0} | {number: n for n, number in enumerate(own, start=1)}
        circuit: list[tuple[int, int, cp_model.LiteralT]] = [(0, 0, at_home)]
        circuit += [(node[number], node[number], self.used[number].negated()) for number in own]
        for number in own:
            model.add_implication(self.used[number], at_home.negated())
        metres, minutes = [], []
        for a, b in product([HOME, *own], repeat=2):
            if a == b or not self._may_follow(a, b):
                continue
            arc = model.new_bool_var(f"arc {party} {a} {b}")
            self.arcs[party, a, b] = arc
            circuit.append((node[a], node[b], arc))
            here, there = self._place(party, a, leaving=True), self._place(party, b)
            drive = self.problem.minutes[here][there]
            metres.append(self.problem.metres[here][there] * arc)
            minutes.append(drive * arc)
            ready = who.leaves if a == HOME else self.starts[a] + self.lasts[a]
            arrives = who.back if b == HOME else self.starts[b]
            model.add(ready + drive <= arrives).only_enforce_if(arc)
        model.add_circuit(circuit)
        # Follows from the times, but shows the relaxation that looks and driving share one day.
        looking = sum(self.lasts[number] for number in own)
        model.add(looking + sum(minutes) <= max(who.back - who.leaves, 0))
        if who.most_m is not None:
            model.add(sum(metres) <= who.most_m)
        self.metres += metres

    def _place(self, party: int, yard_visit: int, *, leaving: bool = False) -> int:
        if yard_visit != HOME:
            return self.problem.place(self.yard_visits[yard_visit].site)
        return self.problem.origin(party) if leaving else self.problem.home(party)

    def _may_follow(self, a: int, b: int) -> bool:
        """Whether the times leave room for yard visit b right after a."""
        if HOME in (a, b):
            return True
        first, then, problem = self.yard_visits[a], self.yard_visits[b], self.problem
        if first.again(then):
            return False
        drive = problem.minutes[problem.place(first.site)][problem.place(then.site)]
        quickest = [
            min(problem.boats[n].minutes for n in yard_visit.boats) for yard_visit in (first, then)
        ]
        return first.span[0] + quickest[0] + drive + quickest[1] <= then.span[1]

    def _each_boat_once(self) -> None:
        looks: dict[int, list[cp_model.IntVar]] = {n: [] for n in self.hopeful}
        for (boat, _), look in self.looks.items():
            looks[boat].append(look)
        for boat, own in looks.items():
            if self.problem.boats[boat].fixed is not None:
                self.model.add_exactly_one(own)
            else:
                self.model.add_at_most_one(own)
        for better, worse in alike(self.problem, self.hopeful):
            # A party that cannot visit there for the better one cannot for the other either.
            self.model.add(sum(looks[better]) >= sum(looks[worse]))

    # --- Solving -----------------------------------------------------------------------------

    def most_valuable(
        self, start: Sequence[Route], effort: float
    ) -> tuple[list[Route], int | None]:
        """The best routes found, `start` if none are better, and the bound on their value."""
        if not self.yard_visits:
            return list(start), 0
        self.model.maximize(self.value)
        routes, bound = self._improved(start, effort)
        return routes, None if bound is None else whole(bound)

    def least_driving(self, start: Sequence[Route], effort: float) -> list[Route]:
        """Routes of equal value with less driving, `start` if none were found."""
        if not self.yard_visits:
            return list(start)
        self.model.add(self.value >= value_of(self.problem, start))
        self.model.minimize(sum(self.metres))
        return self._improved(start, effort)[0]

    def _improved(self, start: Sequence[Route], effort: float) -> tuple[list[Route], float | None]:
        self._hint(start)
        solver = solver_for(effort)
        # Several strategies find better routes than one. In fixed turns, they always find the same.
        solver.parameters.num_workers = STRATEGIES
        solver.parameters.interleave_search = True
        status = solver.solve(self.model)
        routes = list(start)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            routes = max(routes, self._routes(solver), key=lambda of: merit(self.problem, of))
        known = status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN)
        return routes, solver.best_objective_bound if known else None

    def _routes(self, solver: cp_model.CpSolver) -> list[Route]:
        return [self._route(solver, party) for party in range(len(self.problem.parties))]

    def _route(self, solver: cp_model.CpSolver, party: int) -> Route:
        taken = {a: b for (of, a, b), arc in self.arcs.items() if of == party and solver.value(arc)}
        order: list[int] = []
        yard_visit = taken.get(HOME, HOME)
        while yard_visit != HOME:
            looks = [
                n
                for n in self.yard_visits[yard_visit].boats
                if solver.value(self.looks[n, yard_visit])
            ]
            order += sorted(looks, key=lambda n: (-self.problem.boats[n].value, n))
            yard_visit = taken[yard_visit]
        route = route_of(self.problem, party, order)
        if route is None:
            raise RuntimeError("the solver's order of boats cannot be kept")
        return route

    def _hint(self, routes: Sequence[Route]) -> None:
        """Give the solver a starting solution, as far as the routes consist of its yard visits."""
        model, at = self.model, dict(self._yard_visits_made(routes))
        first = {yard_visit: starts for (_, yard_visit), starts in reversed(at.items())}
        tours = set()
        for route in routes:
            made = [
                yard_visit for stop in route.stops for (boat, yard_visit) in at if boat == stop.boat
            ]
            tour = [HOME, *dict.fromkeys(made), HOME]
            tours |= {(route.party, a, b) for a, b in pairwise(tour)}
        model.clear_hints()  # type: ignore[no-untyped-call]  # untyped in the library
        for key, look in self.looks.items():
            model.add_hint(look, key in at)
        for way, arc in self.arcs.items():
            model.add_hint(arc, way in tours)
        for number, start in enumerate(self.starts):
            model.add_hint(self.used[number], number in first)
            model.add_hint(start, first.get(number, self.yard_visits[number].span[0]))

    def _yard_visits_made(self, routes: Sequence[Route]) -> Iterator[tuple[tuple[int, int], int]]:
        """Each boat with the yard visit at which a route looks at her, and when: the present yard
        visit, or the next one there that the party has not made yet.
        """
        for route in routes:
            made: set[int] = set()
            here = HOME
            for stop in route.stops:
                fits = [
                    number
                    for number, yard_visit in enumerate(self.yard_visits)
                    if yard_visit.party == route.party
                    and stop.boat in yard_visit.boats
                    and yard_visit.span[0] <= stop.starts <= stop.ends <= yard_visit.span[1]
                    and (number == here or number not in made)
                ]
                if fits:
                    here = here if here in fits else fits[0]
                    made.add(here)
                    yield (stop.boat, here), stop.starts


def alike(problem: Problem, hopeful: Sequence[int]) -> list[tuple[int, int]]:
    """Pairs of boats at one site that differ only in value: the better one and the next.

    No plan needs the less valuable one without the other.
    """
    kinds: dict[tuple[int, int, frozenset[int]], list[int]] = {}
    for number in sorted(hopeful, key=lambda n: (-problem.boats[n].value, n)):
        boat = problem.boats[number]
        if boat.fixed is None:
            kinds.setdefault((boat.site, boat.minutes, boat.by), []).append(number)
    return [pair for kind in kinds.values() for pair in pairwise(kind)]


def solver_for(effort: float) -> cp_model.CpSolver:
    """A solver that gives the same answer every time, on every machine."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = SEED
    solver.parameters.max_deterministic_time = effort
    solver.parameters.linearization_level = 2
    return solver


def whole(bound: float) -> int:
    """A bound on whole numbers, tolerant of floating-point error."""
    return int(bound + 1e-6 * max(1.0, abs(bound)) ** 0.5)
