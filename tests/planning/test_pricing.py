"""The bound: one party's best day, and the highest value of all parties together."""

from dataclasses import replace

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from apps.planning.solver import day_graph as graphs
from apps.planning.solver.day_graph import DayGraph, day_graph
from apps.planning.solver.one_day import best_days
from apps.planning.solver.pricing import best_together, priced
from apps.planning.solver.problem import BoatToVisit, Party, Problem
from apps.planning.solver.schedules import route_of, value_of
from apps.planning.solver.solving import why_not_alone
from apps.planning.solver.yard_visits import most_yard_visits, yard_visits_of
from tests.planning.brute_force import best_value
from tests.planning.days import days, days_with_appointments, large_day, problem_on_a_map


def hopeful(day: Problem) -> list[int]:
    return [n for n in range(len(day.boats)) if why_not_alone(day, n) is None]


def of_first_party(day: Problem) -> Problem:
    """The same for one party, without boats that are fixed for another one."""
    boats = [
        replace(boat, by=boat.by & {0}, fixed=None if boat.fixed and boat.fixed[0] else boat.fixed)
        for boat in day.boats
        if not (boat.fixed and boat.fixed[0])
    ]
    kept = [0, *range(len(day.parties), len(day.metres))]
    metres, minutes = (
        tuple(tuple(table[a][b] for b in kept) for a in kept) for table in (day.metres, day.minutes)
    )
    return Problem(day.parties[:1], day.sites, tuple(boats), metres, minutes)


@settings(max_examples=150, deadline=None)
@given((days(most_boats=6) | days_with_appointments()).map(of_first_party))
def test_the_best_day_is_never_worth_too_little_and_exact_if_it_can_be_driven(day):
    best = best_value(day)
    assume(best is not None)
    graph = DayGraph(day, 0, hopeful(day))
    found, orders = best_days(graph, [boat.value for boat in day.boats], 1)
    assert found >= best
    assert bool(orders) == (found > 0 or bool(graph.fixed))
    for order in orders:
        assert found == sum(day.boats[n].value for n in order)
        if len(set(order)) == len(order) and route_of(day, 0, order) is not None:
            event("can be driven")
            assert found == best


@settings(max_examples=150, deadline=None)
@given(days(most_boats=6).map(of_first_party))
def test_it_is_exact_where_no_range_binds_and_coming_back_never_pays(day):
    day = replace(day, parties=(replace(day.parties[0], most_m=None),))
    assume(all(yard_visit.nth == 0 for yard_visit in yard_visits_of(day, 0, hopeful(day))))
    # A site's second span is reached by waiting there; a third could be reached by going elsewhere.
    day = replace(day, sites=tuple(replace(site, spans=site.spans[:1]) for site in day.sites))
    found, _ = best_days(DayGraph(day, 0, hopeful(day)), [b.value for b in day.boats], 1)
    assert found == best_value(day)


@settings(max_examples=60, deadline=None)
@given(days(most_boats=6).map(of_first_party), st.integers(0, 3))
def test_forgetting_calls_only_makes_days_look_better(day, experience):
    gains = [boat.value for boat in day.boats]
    all_of_them = DayGraph(day, 0, hopeful(day))
    some_of_them = DayGraph(day, 0, hopeful(day), experience)
    assert best_days(some_of_them, gains, 1)[0] >= best_days(all_of_them, gains, 1)[0]


@settings(max_examples=60, deadline=None)
@given(days() | days_with_appointments())
def test_no_plan_beats_the_bound_and_the_days_make_a_plan(day):
    best = best_value(day)
    assume(best is not None)
    found = priced(day, hopeful(day))
    assert found.bound >= best
    routes = best_together(day, found.days, 1)
    seen = [stop.boat for route in routes for stop in route.stops]
    assert len(seen) == len(set(seen))
    assert {n for n, boat in enumerate(day.boats) if boat.fixed} <= set(seen)
    assert value_of(day, routes) <= best


def test_waiting_for_the_gate_is_one_look_at_each_boat():
    """Shut at noon; three boats of an hour each, two before and one after."""
    day = problem_on_a_map(
        [(0, 0)],
        [(10, 0)],
        [Party(480, 960)],
        [((480, 620), (780, 1000))],
        [BoatToVisit(0, value, 60, frozenset({0})) for value in (5, 3, 2)],
    )
    best, orders = best_days(DayGraph(day, 0, [0, 1, 2]), [5, 3, 2], 1)
    assert best == 10 == best_value(day)
    assert sorted(orders[0]) == [0, 1, 2]
    assert route_of(day, 0, orders[0]) is not None


def test_a_graph_too_large_forgets_calls(monkeypatch):
    day = large_day(1)
    whole = day_graph(day, 3, hopeful(day))
    rows = sum(len(layer.rows) for layer in whole.layers)
    monkeypatch.setattr(graphs, "MOST_ROWS", rows // 2)
    smaller = day_graph(day, 3, hopeful(day))
    assert sum(len(layer.rows) for layer in smaller.layers) <= rows // 2
    gains = [boat.value for boat in day.boats]
    assert best_days(smaller, gains, 1)[0] >= best_days(whole, gains, 1)[0]


@pytest.mark.parametrize("seed", range(3))
def test_a_days_bound_is_within_a_twentieth_of_a_plan_made_of_its_days(seed):
    day = large_day(seed, sites=6, boats=40, parties=3)
    found = priced(day, hopeful(day))
    value = value_of(day, best_together(day, found.days, 1))
    assert 0.95 * found.bound <= value <= found.bound


def test_who_would_wait_for_two_gates_at_one_time_comes_back_once():
    """Two yards open at noon and shut soon after; the party can wait only at one of them."""
    day = problem_on_a_map(
        [(0, 0)],
        [(10, 0), (20, 0), (20, 10)],
        [Party(0, 1000)],
        [((0, 990),), ((300, 400),), ((300, 500),)],
        [BoatToVisit(0, 1, 10, frozenset({0})) for _ in range(5)]
        + [BoatToVisit(1, 1, 10, frozenset({0})), BoatToVisit(2, 1, 10, frozenset({0}))],
    )
    yard_visits = [
        yard_visit for yard_visit in yard_visits_of(day, 0, range(7)) if yard_visit.nth == 0
    ]
    assert [most_yard_visits(yard_visit, yard_visits) for yard_visit in yard_visits] == [2, 1, 1]
