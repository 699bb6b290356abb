"""The Tern group at an estuary: two yards half an hour apart, four boats, a trip with two cars."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.yards.models import Yard
from apps.planning.jobs import trip_plan
from apps.planning.models import Trip
from tests.boats.conftest import BOAT, list_made
from tests.catalogue.conftest import Files, files, small_catalogue  # noqa: F401
from tests.conftest import Cast
from tests.kept import kept

ALL_WEEK = {
    day: [{"opens": "08:00", "closes": "18:00"}]
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
}
# Invented yards, on a real coast so that distances are of a usual size.
NORTH = {"name": "North Quay", "latitude": 54.40, "longitude": 10.20}
SOUTH = {"name": "South Creek", "latitude": 54.20, "longitude": 10.40}
HOME = {"label": "Home", "latitude": 54.32, "longitude": 10.13}
DAY = timezone.now().date() + timedelta(days=30)


@pytest.fixture(autouse=True)
def _catalogue(small_catalogue: Files) -> None:  # noqa: F811
    pass


def usd(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "USD"}


def car(cast: Cast, *who: str, **said) -> dict:
    people = [str(getattr(cast, name).person.id) for name in who or ("ben", "bea")]
    return {
        "label": "Ben's car",
        "people": people,
        "start": HOME,
        "leaves_at": "08:00",
        "back_by": "17:00",
        **said,
    }


@pytest.fixture
def list_id(cast) -> str:
    return kept("list", lambda: list_made(cast))


@pytest.fixture
def yards(cast, list_id) -> dict[str, str]:
    """By name, north and south, open every day."""
    return kept("yards", lambda: yards_made(cast))


def yards_made(cast: Cast) -> dict[str, str]:
    return {
        name: cast.ben.post(
            f"/groups/{cast.group.id}/yards",
            {**facts, "time_zone": "Europe/Berlin", "opening_hours": ALL_WEEK},
        ).json()["id"]
        for name, facts in (("north", NORTH), ("south", SOUTH))
    }


@pytest.fixture
def boats(cast, list_id, yards) -> dict[str, str]:
    """Two in each yard; ids by name."""
    return kept("boats in yards", lambda: boats_made(cast, list_id, yards))


def boats_made(cast: Cast, list_id: str, yards: dict[str, str]) -> dict[str, str]:
    return {
        name: cast.ben.post(
            f"/lists/{list_id}/candidates",
            {**BOAT, "name": name, "place": {"yard_id": yards[yard]}},
        ).json()["id"]
        for name, yard in {
            "Plover": "north",
            "Skua": "north",
            "Fulmar": "south",
            "Petrel": "south",
        }.items()
    }


VALUES = {"Plover": "400.00", "Skua": "300.00", "Fulmar": "200.00", "Petrel": "100.00"}


def trip_body(cast: Cast, fleet: dict[str, str], **said) -> dict:
    return {
        "name": "Round the estuary",
        "day": str(DAY),
        "time_zone": "Europe/Berlin",
        "currency": "USD",
        "parties": [car(cast)],
        "boats": [
            {"candidate": fleet[name], "value": usd(value), "minutes": 60}
            for name, value in VALUES.items()
        ],
        **said,
    }


def post_trip(cast: Cast, fleet: dict[str, str], who: str = "ben", **said):
    return getattr(cast, who).post(f"/groups/{cast.group.id}/trips", trip_body(cast, fleet, **said))


@pytest.fixture
def trip_id(cast, boats) -> str:
    return kept("trip", lambda: trip_made(cast, boats))


def trip_made(cast: Cast, boats: dict[str, str]) -> str:
    made = post_trip(cast, boats)
    assert made.status_code == 201, made.content
    return made.json()["id"]


def planned(cast: Cast, trip_id: str, who: str = "ben") -> dict:
    """Ask for a plan, run the worker, and read it."""
    asked = getattr(cast, who).post(f"/trips/{trip_id}/plans")
    assert asked.status_code == 202, asked.content
    return replanned(cast, trip_id, who)


def replanned(cast: Cast, trip_id: str, who: str = "ben") -> dict:
    """Run the worker's due jobs, and read the plan."""
    trip_plan(trip_id=trip_id)
    return read(cast, trip_id, who)["plan"]


def read(cast: Cast, trip_id: str, who: str = "ben") -> dict:
    answer = getattr(cast, who).get(f"/trips/{trip_id}")
    assert answer.status_code == 200, answer.content
    return answer.json()


def names(plan: dict) -> list[list[str]]:
    """The boats of each route, in order."""
    return [[stop["name"] for stop in route["stops"]] for route in plan["routes"]]


def left_out(plan: dict) -> dict[str, str]:
    return {row["name"]: row["why"] for row in plan["left_out"]}


def due(trip_id: str) -> bool:
    trip = Trip.objects.get(pk=trip_id)
    return trip.stale


def close_yard(yard_id: str, cast: Cast) -> None:
    answer = cast.ben.change("PATCH", f"/yards/{yard_id}", {"closed_on": [str(DAY)]})
    assert answer.status_code == 200, answer.content
    assert Yard.objects.get(pk=yard_id).closed_on == [str(DAY)]
