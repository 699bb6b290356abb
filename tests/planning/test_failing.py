"""Empty plans are plans; failures are reported to readers and tried again."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.jobs.backoff import ASKED
from apps.planning.jobs import trip_plan, trips_due
from apps.planning.models import Trip
from apps.planning.solver import solving
from apps.planning.solver.problem import Party, Problem
from apps.planning.solver.solving import solve
from tests.planning.conftest import left_out, planned, post_trip, read, replanned, usd


def test_a_trip_without_a_boat_is_planned(cast, boats):
    plan = planned(cast, post_trip(cast, boats, boats=[]).json()["id"])
    assert (plan["outcome"], plan["fresh"], plan["failing"]) == ("planned", True, False)
    assert (plan["routes"], plan["left_out"], plan["value"]) == ([], [], usd("0.00"))
    assert plan["sentences"] == ["The plan has no stops: no boat is on the trip."]


def test_a_trip_for_which_nothing_has_a_value_says_so_of_each_boat(cast, boats):
    unknown = [{"candidate": boat} for boat in boats.values()]
    plan = planned(cast, post_trip(cast, boats, boats=unknown).json()["id"])
    assert (plan["outcome"], plan["fresh"], plan["proven"]) == ("planned", True, True)
    assert left_out(plan) == dict.fromkeys(boats, "no_value_known")
    assert plan["sentences"] == ["The plan has no stops: each boat left out says why."]


def test_it_is_planned_once_something_has_a_value(cast, boats):
    trip_id = post_trip(cast, boats, boats=[]).json()["id"]
    planned(cast, trip_id)
    body = {"boats": [{"candidate": boats["Skua"], "value": usd("50.00")}]}
    assert cast.ben.change("PATCH", f"/trips/{trip_id}", body).status_code == 200
    assert replanned(cast, trip_id)["value"] == usd("50.00")


@pytest.mark.parametrize("parties", [1, 3])
def test_the_solver_takes_a_day_without_boats(parties):
    nothing = tuple((0,) * parties for _ in range(parties))
    found = solve(Problem((Party(480, 1000),) * parties, (), (), nothing, nothing))
    assert [route.stops for route in found.routes] == [()] * parties
    assert (found.value, found.bound, found.proven) == (0, 0, True)


@pytest.fixture
def broken(monkeypatch):
    """A solver that fails, until the fixture is undone."""

    def break_down(problem):
        raise RuntimeError("out of luck")

    with monkeypatch.context() as breaking:
        breaking.setattr(solving, "solve", break_down)
        yield breaking


def let_rest_pass():
    Trip.objects.update(next_attempt_at=timezone.now() - timedelta(seconds=1))


def test_a_plan_that_fails_says_so(cast, trip_id, broken):
    plan = planned(cast, trip_id)
    assert (plan["outcome"], plan["fresh"], plan["failing"]) == ("none", False, True)
    assert plan["sentences"] == ["The last attempt at a plan failed; it is tried again."]
    assert not trips_due().exists(), "it rests before it is tried again"
    broken.undo()
    let_rest_pass()
    assert trips_due().exists()
    plan = replanned(cast, trip_id)
    assert (plan["outcome"], plan["fresh"], plan["failing"]) == ("planned", True, False)


def test_a_plan_that_nobody_works_on_says_so(cast, trip_id, monkeypatch):
    monkeypatch.setattr("apps.jobs.life.silent_for", lambda part: 61.0 if part == "planning" else 0)
    assert read(cast, trip_id)["plan"]["failing"] is False, "nobody asked for one"
    assert cast.ola.post(f"/trips/{trip_id}/plans").status_code == 202
    assert read(cast, trip_id)["plan"]["failing"] is True


def test_whoever_waits_is_told_what_failed(cast, trip_id, broken):
    planned(cast, trip_id)
    answer = cast.ivy.get(f"/trips/{trip_id}?wait=0.1").json()
    assert (answer["plan"]["fresh"], answer["plan"]["failing"]) == (False, True)
    assert "out of luck" not in str(answer)


def test_another_reason_to_plan_does_not_wait_for_the_rest(cast, trip_id, broken):
    planned(cast, trip_id)
    broken.undo()
    assert cast.ben.change("PATCH", f"/trips/{trip_id}", {"note": "Boots"}).status_code == 200
    assert read(cast, trip_id)["plan"]["failing"] is False, "nobody has tried it as it is now"
    assert replanned(cast, trip_id)["outcome"] == "planned"


def test_after_some_attempts_it_is_given_up_until_somebody_asks(cast, trip_id, broken):
    planned(cast, trip_id)
    for _ in range(ASKED.most_attempts - 1):
        let_rest_pass()
        trip_plan(trip_id=trip_id)
    plan = read(cast, trip_id)["plan"]
    assert (plan["outcome"], plan["failing"]) == ("failed", True)
    let_rest_pass()
    assert not trips_due().exists()
    broken.undo()
    assert planned(cast, trip_id)["outcome"] == "planned"
