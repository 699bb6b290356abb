"""Plans of a club's day against what people do without one, and against the bound.

Run by name: python -m tests.bench.bench_trip. 90 boats in 9 yards, 4 parties with hours and ranges
of their own. Baseline: nearest first, the boat worth most where several lie, one party after the
other. Wanted: every plan within 5% of the bound (what no plan can beat), and worth at least as much
as the baseline's; also shown are best insertion's worth and the seconds taken.
"""

import statistics
import sys
import time

from apps.planning.solver.baselines import best_insertion
from apps.planning.solver.problem import Problem, Route
from apps.planning.solver.schedules import route_of, value_of
from apps.planning.solver.solving import solve
from tests.planning.days import large_day

WANTED_GAP, SEEDS = 0.05, range(5)


def main() -> int:
    gaps, ratios, seconds = [], [], []
    print("day  nearest  insertion     plan    bound    gap  plan/nearest  seconds")
    for seed in SEEDS:
        day = large_day(seed)
        nearest, inserted = (value_of(day, f(day)) for f in (nearest_first, best_insertion))
        started = time.perf_counter()
        found = solve(day)
        seconds.append(time.perf_counter() - started)
        gaps.append(found.gap)
        ratios.append(found.value / nearest)
        print(
            f"{seed:3}  {nearest:7}  {inserted:9}  {found.value:7}  {found.bound:7}  "
            f"{found.gap:5.1%}  {ratios[-1]:12.2f}  {seconds[-1]:7.1f}",
            flush=True,
        )
    print(
        f"worst gap {max(gaps):.1%} (wanted: {WANTED_GAP:.0%}); plan over nearest first: "
        f"{statistics.mean(ratios):.2f} on average; {statistics.mean(seconds):.0f} s a plan"
    )
    return int(max(gaps) > WANTED_GAP or min(ratios) < 1)


def nearest_first(problem: Problem) -> list[Route]:
    """What people do without a plan: one party after the other drives to whatever boat is nearest,
    the one worth most where several lie, for as long as it can."""
    taken: set[int] = set()
    routes = []
    for party in range(len(problem.parties)):
        order: list[int] = []
        here = problem.origin(party)
        while (found := _nearest(problem, party, order, here, taken)) is not None:
            order.append(found)
            taken.add(found)
            here = problem.place(problem.boats[found].site)
        routes.append(route_of(problem, party, order) or Route(party))
    return routes


def _nearest(
    problem: Problem, party: int, order: list[int], here: int, taken: set[int]
) -> int | None:
    def far(number: int) -> tuple[int, int, int]:
        boat = problem.boats[number]
        return problem.metres[here][problem.place(boat.site)], -boat.value, number

    for number in sorted(set(range(len(problem.boats))) - taken, key=far):
        if route_of(problem, party, [*order, number]) is not None:
            return number
    return None


if __name__ == "__main__":
    sys.exit(main())
