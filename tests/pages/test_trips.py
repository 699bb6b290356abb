"""A day out on pages: planning one, and its plan as a group or a club's member sees it."""

import re
from datetime import date

import pytest

from apps.pages.visits.trip_forms import next_saturday
from apps.planning.models import Trip, TripParty
from apps.viewings.models import Viewing
from tests.pages.browser import Browser, forms_in
from tests.pages.test_every_page import queries_of
from tests.planning.conftest import (  # noqa: F401
    _catalogue,
    boats,
    list_id,
    planned,
    replanned,
    small_catalogue,
    trip_id,
    yards,
)


def page_of(who, at: str) -> str:
    answer = Browser(who).get(at)
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.fixture
def at(trip_id) -> str:  # noqa: F811
    return f"/trips/{trip_id}"


def test_a_form_asks_who_goes_how_long_and_to_which_boats(cast, list_id, boats):  # noqa: F811
    page = page_of(cast.ben, f"/lists/{list_id}/trips/new?cars=2")
    (form,) = [one for one in forms_in(page) if one[0] == "POST"]
    assert form[1] == f"/groups/{cast.group.pk}/trips"
    names = set(form[2])
    assert {"name", "day", "boats", "parties.0.people", "parties.1.leaves_at"} <= names
    assert not names & {"speed_kmh", "road_factor", "minutes_per_boat"}
    assert 'data-also="POST /trips/{id}/plans"' in page
    for boat in boats:
        assert boat in page
    assert page.count('data-of="candidate" checked') == 4
    assert "parties.2.label" not in page


@pytest.mark.parametrize("cars", ["0", "-1", "nine", "²", "999999999999999999999"])
def test_an_odd_number_of_cars_asks_for_one(cast, list_id, boats, cars):  # noqa: F811
    assert "parties.1.label" not in page_of(cast.ben, f"/lists/{list_id}/trips/new?cars={cars}")


def test_the_next_car_starts_where_the_last_one_did(cast, list_id, trip_id):  # noqa: F811
    page = page_of(cast.ben, f"/lists/{list_id}/trips/new")
    assert 'value="54.32"' in page
    assert 'value="54.32"' not in page_of(cast.ola, f"/lists/{list_id}/trips/new")


def test_before_there_is_a_plan_it_says_what_comes(cast, at):
    page = page_of(cast.ben, at)
    assert "Nobody has asked for a plan yet" in page
    assert f'data-api="POST {at}/plans"' in page
    assert 'data-fresh="true"' in page


def test_while_it_is_worked_out_the_page_waits_for_it(cast, trip_id, at):  # noqa: F811
    cast.ben.post(f"/trips/{trip_id}/plans")
    page = page_of(cast.ben, at)
    assert "The day is being worked out" in page
    assert 'data-fresh="false"' in page
    held = re.search(r'data-held="([^"]+)"', page)[1]
    said = cast.ben.get(f"/trips/{trip_id}", If_None_Match=f'"{held}"')
    assert said.status_code == 304
    replanned(cast, trip_id)
    assert cast.ben.get(f"/trips/{trip_id}", If_None_Match=f'"{held}"').status_code == 200


def test_a_failure_is_said(cast, trip_id, at):  # noqa: F811
    cast.ben.post(f"/trips/{trip_id}/plans")
    trip = Trip.objects.get(pk=trip_id)
    Trip.objects.filter(pk=trip_id).update(failed_revision=trip.revision)
    assert "The last attempt at a plan failed; it is tried again." in page_of(cast.ben, at)


def test_the_stops_stand_in_order_with_who_looks_and_what_is_left_out(cast, trip_id, at):  # noqa: F811
    plan = planned(cast, trip_id)
    page = page_of(cast.ben, at)
    stops = [stop["name"] for route in plan["routes"] for stop in route["stops"]]
    section = page[page.index('id="plan"') : page.index('id="paper"')]
    assert re.findall(r'<a href="/boats/[\w-]+">(\w+)</a>', section) == stops
    assert re.search(r"(Ben and Bea|Bea and Ben) look at these boats", page)
    for sentence in (*plan["cautions"], *(one["sentence"] for one in plan["left_out"])):
        assert sentence in page
    assert f'href="/api/v1{at}/plan.ics"' in page
    assert f'href="/api/v1{at}/day-sheet.pdf"' in page
    assert f'data-api="POST {at}/viewings"' in page


def test_agreed_stops_lead_to_the_look_of_those_who_go(cast, trip_id, at):  # noqa: F811
    planned(cast, trip_id)
    assert cast.ben.post(f"/trips/{trip_id}/viewings").status_code == 201
    replanned(cast, trip_id)
    page = page_of(cast.ben, at)
    first = Viewing.objects.order_by("starts_at").first()
    assert f'data-day="{first.pk}"' in page
    assert f'href="/visits/{first.pk}/look"' in page
    assert f'data-api="POST {at}/viewings"' not in page
    stays_at_home = page_of(cast.ola, at)
    assert "data-day=" not in stays_at_home
    assert f'href="/visits/{first.pk}"' in stays_at_home


def test_whoever_plans_nothing_changes_nothing(cast, trip_id, at):  # noqa: F811
    planned(cast, trip_id)
    page = page_of(cast.ivy, at)
    assert "data-api=" not in page
    for who in (cast.wim, cast.sten):
        assert Browser(who).get(at).status_code == 404


def test_the_board_and_the_trip_lead_to_one_another(cast, list_id, trip_id, at):  # noqa: F811
    assert f'href="{at}"' in page_of(cast.ivy, f"/lists/{list_id}")
    assert f'href="/lists/{list_id}/trips/new"' not in page_of(cast.ivy, f"/lists/{list_id}")


def test_more_cars_cost_few_queries(cast, trip_id, at):  # noqa: F811
    planned(cast, trip_id)
    ben = Browser(cast.ben)
    ben.get(at)
    few = queries_of(ben, at)
    trip = Trip.objects.get(pk=trip_id)
    for n in range(3):
        TripParty.objects.create(
            trip=trip,
            label=f"Car {n}",
            latitude=54,
            longitude=10,
            leaves_at="08:00",
            back_by="17:00",
        )
    assert queries_of(ben, at) == few


def test_the_next_saturday():
    """29 and 30 November 2025 are a Saturday and a Sunday (ISO 8601 week 48)."""
    assert next_saturday(date(2025, 11, 28)) == date(2025, 11, 29)
    assert next_saturday(date(2025, 11, 29)) == date(2025, 12, 6)
    assert next_saturday(date(2025, 11, 30)) == date(2025, 12, 6)
