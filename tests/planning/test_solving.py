"""The solver compared with trying everything, and rules for any plan."""

import pytest
from hypothesis import given, settings

from apps.planning.solver.problem import BoatToVisit, Infeasible, Party, Problem
from apps.planning.solver.schedules import route_of, value_of
from apps.planning.solver.solving import solve
from tests.planning.brute_force import best_value
from tests.planning.days import days, days_with_appointments, problem_on_a_map


@settings(max_examples=60, deadline=None)
@given(days())
def test_as_good_as_trying_everything(day):
    found = solve(day)
    assert found.value == best_value(day)
    assert found.proven
    check_plan(day, found)


@settings(max_examples=60, deadline=None)
@given(days_with_appointments())
def test_as_good_as_trying_everything_round_appointments(day):
    best = best_value(day)
    if best is None:
        with pytest.raises(Infeasible):
            solve(day)
        return
    found = solve(day)
    assert found.value == best
    check_plan(day, found)


def check_plan(day: Problem, found) -> None:
    """Each boat once or left out with a reason; each route can be driven as it says."""
    seen = [stop.boat for route in found.routes for stop in route.stops]
    assert len(seen) == len(set(seen))
    assert set(seen) | found.left_out.keys() == set(range(len(day.boats)))
    assert not set(seen) & found.left_out.keys()
    for route in found.routes:
        assert route == route_of(day, route.party, [stop.boat for stop in route.stops])
    assert found.value == value_of(day, found.routes) <= found.bound


def test_coming_back_to_a_yard_can_pay():
    """B is open for an hour around noon only, so A is visited before and after it."""
    boats = [BoatToVisit(0, 10, 120, frozenset({0})) for _ in range(2)]
    boats.append(BoatToVisit(1, 10, 30, frozenset({0})))
    day = problem_on_a_map(
        [(0, 0)],
        [(10, 0), (20, 0)],
        [Party(480, 480 + 20 + 20 + 270)],
        [((480, 900),), ((620, 660),)],
        boats,
    )
    found = solve(day)
    assert found.value == 30 == best_value(day)
    assert [day.boats[stop.boat].site for stop in found.routes[0].stops] == [0, 1, 0]
