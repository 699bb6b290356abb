"""Plans of work against all plans of small seasons, and against plain sums."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from apps.ownership.solver.problem import (
    EnablingWork,
    Season,
    WorkJob,
    begun,
    faults_of,
    merit,
    spent,
)
from apps.ownership.solver.scheduling import plan_of
from tests.ownership.by_trial import best_by_trial

MONTHS = 3


def some_months():
    return st.frozensets(st.integers(0, MONTHS - 1))


@st.composite
def seasons(draw):
    enabling = []
    for m in range(draw(st.integers(0, 2))):
        enabling.append(
            EnablingWork(
                code=f"enabling-{m}",
                cost=draw(st.integers(0, 5)),
                may_change=draw(some_months()),
                closed=draw(some_months()),
                in_place=draw(st.booleans()),
                needs=frozenset({0}) if m and draw(st.booleans()) else frozenset(),
                ahead=draw(st.integers(0, 1)),
            )
        )
    jobs = [
        WorkJob(
            code=f"job-{j}",
            cost=draw(st.integers(0, 5)),
            hours=draw(st.sampled_from([0, 0, 1, 3, 5])),
            safety=draw(st.booleans()),
            urgent=draw(st.booleans()),
            needs=draw(st.frozensets(st.integers(0, len(enabling) - 1)))
            if enabling
            else frozenset(),
        )
        for j in range(draw(st.integers(1, 3)))
    ]
    hours = tuple(draw(st.integers(0, 4)) for _ in range(MONTHS))
    return Season(hours, tuple(jobs), tuple(enabling), draw(st.none() | st.integers(0, 9)))


@given(seasons())
@settings(max_examples=60)
def test_it_is_as_good_as_the_best_of_all_plans(season):
    plan = plan_of(season)
    assert faults_of(season, plan) == []
    assert plan.proven
    assert merit(season, plan) == merit(season, best_by_trial(season))


@given(seasons())
@settings(max_examples=30)
def test_the_same_season_has_the_same_plan(season):
    assert plan_of(season) == plan_of(season)


@given(seasons())
@settings(max_examples=40)
def test_more_hours_never_make_it_worse(season):
    more = replace(season, hours=tuple(hours + 1 for hours in season.hours))
    assert merit(more, plan_of(more)) <= merit(season, plan_of(season))


def lift_out(**changed):
    every = frozenset(range(6))
    return EnablingWork(**{"code": "lift-out", "cost": 500, "may_change": every, **changed})


def test_a_lift_out_is_paid_once_for_all_that_need_it():
    jobs = tuple(WorkJob(f"job-{j}", 100, needs=frozenset({0})) for j in range(5))
    season = Season((0,) * 6, jobs, (lift_out(),))
    plan = plan_of(season)
    assert [one.begins for one in plan.jobs] == [0] * 5
    assert spent(season, plan) == [1000, 0, 0, 0, 0, 0]


def test_she_stays_ashore_while_the_hours_last_rather_than_be_lifted_twice():
    """30 hours of own work at 10 a month: three months ashore, one lift-out."""
    season = Season(
        (10,) * 6,
        (WorkJob("antifoul", 80, hours=30, needs=frozenset({0})),),
        (lift_out(),),
    )
    plan = plan_of(season)
    assert plan.jobs[0].hours == (10, 10, 10, 0, 0, 0)
    assert plan.in_place == ((True, True, True, False, False, False),)
    assert begun(season, 0, plan.in_place[0]) == [0]


def test_safety_comes_first_even_at_the_price_of_a_second_lift_out():
    """The cutless bearing needs more than a month's money, so the seacocks do not wait for it."""
    ashore = frozenset({0})
    season = Season(
        (0,) * 6,
        (
            WorkJob("bearing", 900, needs=ashore),
            WorkJob("seacocks", 400, safety=True, needs=ashore),
        ),
        (lift_out(closed=frozenset({1, 2})),),
        most=1400,
    )
    plan = plan_of(season)
    assert (plan.jobs[1].begins, plan.jobs[0].begins) == (0, 3)
    assert spent(season, plan) == [900, 0, 0, 1400, 0, 0]


def test_it_waits_for_the_month_in_which_the_yard_lifts_and_not_while_she_sails():
    season = Season(
        (0,) * 6,
        (WorkJob("bearing", 900, needs=frozenset({0})),),
        (lift_out(may_change=frozenset({1, 4}), closed=frozenset({1, 2})),),
    )
    assert plan_of(season).jobs[0].begins == 4


def test_a_hull_dries_before_it_is_coated():
    every = frozenset(range(6))
    dry = EnablingWork("dry", 200, every, needs=frozenset({0}), ahead=2)
    season = Season(
        (0,) * 6,
        (WorkJob("coat", 900, needs=frozenset({0, 1})), WorkJob("anode", 20, needs=frozenset({0}))),
        (lift_out(), dry),
    )
    plan = plan_of(season)
    assert [one.begins for one in plan.jobs] == [2, 0]
    assert plan.in_place[0][:4] == (True, True, True, False)


def test_what_is_dearer_than_any_month_is_left_out_and_said():
    season = Season((0,), (WorkJob("engine", 9000), WorkJob("hoses", 90)), most=1000)
    assert [one is None for one in plan_of(season).jobs] == [True, False]


def test_nothing_to_do_is_a_plan():
    assert plan_of(Season((5, 5), ())).jobs == ()
    assert plan_of(Season((), ())).proven
