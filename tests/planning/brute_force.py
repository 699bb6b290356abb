"""Finds the best plan by trying all orders of all choices of boats for every party.

It shares no code with the solver; the rule when a look may start is written again here.
"""

from itertools import permutations

from apps.planning.solver.problem import Problem


def best_value(problem: Problem) -> int | None:
    """The value of the best plan; None if the fixed stops cannot be kept."""
    found = best_from(problem, 0, frozenset(range(len(problem.boats))))
    return found


def best_from(problem: Problem, party: int, left: frozenset[int]) -> int | None:
    """The highest value that this party and the later ones can get from the remaining boats."""
    if party == len(problem.parties):
        return None if any(problem.boats[n].fixed for n in left) else 0
    best = None
    for size in range(len(left) + 1):
        for order in permutations(sorted(left), size):
            if not possible(problem, party, order):
                continue
            after = best_from(problem, party + 1, left - set(order))
            if after is not None:
                value = after + sum(problem.boats[n].value for n in order)
                best = value if best is None else max(best, value)
    return best


def possible(problem: Problem, party: int, order: tuple[int, ...]) -> bool:
    who = problem.parties[party]
    here, now, metres = problem.origin(party), who.leaves, 0
    for n in order:
        boat = problem.boats[n]
        if party not in boat.by:
            return False
        there = problem.place(boat.site)
        metres += problem.metres[here][there]
        now += problem.minutes[here][there]
        if boat.fixed:
            by, at = boat.fixed
            if by != party or now > at:
                return False
            now = at + boat.minutes
        else:
            ends = [
                max(opens, now) + boat.minutes
                for opens, closes in problem.sites[boat.site].spans
                if max(opens, now) + boat.minutes <= closes
            ]
            if not ends:
                return False
            now = min(ends)
        here = there
    home = problem.home(party)
    if not order:
        return True
    metres += problem.metres[here][home]
    now += problem.minutes[here][home]
    return now <= who.back and (who.most_m is None or metres <= who.most_m)
