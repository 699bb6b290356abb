"""A list of the Tern group with one boat on it, made through the API."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.boats.list_models import CandidateList
from apps.events.models import Event
from tests.kept import kept

BRIEF = {"currency": "USD", "budget": {"amount": "60000.00", "currency": "USD"}}
# An invented boat.
BOAT = {
    "name": "Plover",
    "loa_m": 10.0,
    "lwl_m": 8.0,
    "beam_m": 3.2,
    "draught_m": 1.6,
    "displacement_kg": 5000.0,
    "ballast_kg": 2000.0,
    "sail_area_m2": 50.0,
    "hull_material": "grp",
    "keel": "bolted_fin",
    "build_year": 1984,
}


def usd(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "USD"}


@pytest.fixture
def list_id(cast) -> str:
    return kept("list", lambda: list_made(cast))


def list_made(cast) -> str:
    made = cast.ola.post(f"/groups/{cast.group.id}/lists", {"name": "Spring", "brief": BRIEF})
    assert made.status_code == 201, made.content
    return made.json()["id"]


@pytest.fixture
def boat_id(cast, list_id) -> str:
    return kept("boat", lambda: add_boat(cast, list_id))


def add_boat(cast, list_id: str, **facts) -> str:
    made = cast.ben.post(f"/lists/{list_id}/candidates", {**BOAT, **facts})
    assert made.status_code == 201, made.content
    return made.json()["id"]


@pytest.fixture
def foreign_list_id(cast) -> str:
    """A list that only Wim's group has."""
    made = cast.wim.post(f"/groups/{cast.other_group.id}/lists", {"name": "Ours", "brief": BRIEF})
    return made.json()["id"]


def revision(list_id: str) -> int:
    return CandidateList.objects.get(pk=list_id).inputs_revision


def events(list_or_group_id) -> list[str]:
    """The kinds of events of a group, in order."""
    return list(Event.objects.filter(group=list_or_group_id).values_list("kind", flat=True))


def queries_of(call) -> int:
    """The number of queries of the call, after the token's first use was recorded."""
    call()
    with CaptureQueriesContext(
        connection,
    ) as captured:
        answer = call()
    assert answer.status_code == 200, answer.content
    return len(captured)
