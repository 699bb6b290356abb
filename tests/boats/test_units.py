"""Feet and pounds in and out, against the international yard and pound agreement of 1959.

By that agreement 1 yd = 0.9144 m and 1 lb = 0.45359237 kg exactly, so 1 ft = 0.3048 m and
1 sq ft = 0.09290304 m2 exactly.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.boats.models import Candidate
from apps.boats.quantities import IMPERIAL, pointer_as_sent
from apps.reckoning import ratios
from tests.boats.conftest import BOAT, add_boat
from tests.conftest import pointers

FEET = {"loa_ft": 38.0, "lwl_ft": 30.5, "beam_ft": 12.25, "draught_ft": 5.9}
AGREED = {"ft": 0.9144 / 3, "lb": 0.45359237, "sqft": 0.09290304}


@pytest.mark.parametrize("si_name", IMPERIAL)
def test_factors_are_those_agreed(si_name):
    imperial = IMPERIAL[si_name]
    assert imperial.factor == pytest.approx(AGREED[imperial.name.rsplit("_", 1)[1]], rel=1e-15)


def test_factors_are_those_the_ratios_use():
    assert IMPERIAL["loa_m"].factor == ratios.METRES_PER_FOOT
    assert IMPERIAL["displacement_kg"].factor == ratios.KILOGRAMS_PER_POUND


@given(st.decimals(min_value=1, max_value=100_000, places=3).map(float))
def test_what_was_sent_is_what_is_shown(value):
    for imperial in IMPERIAL.values():
        assert imperial.from_si(imperial.to_si(value)) == value


def test_it_works(cast, list_id):
    made = cast.ben.post(
        f"/lists/{list_id}/candidates",
        {
            "name": "Plover",
            **FEET,
            "displacement_lb": 14_000,
            "ballast_lb": 5_500,
            "sail_area_sqft": 640,
            "sources": {"draught_ft": "measured"},
        },
    )
    assert made.status_code == 201, made.content
    boat = made.json()
    assert boat["loa_m"] == pytest.approx(11.5824, rel=1e-12)
    assert boat["displacement_kg"] == pytest.approx(14_000 * 0.45359237, rel=1e-12)
    assert boat["sail_area_m2"] == pytest.approx(640 * 0.09290304, rel=1e-12)
    assert boat["sources"]["draught_m"] == "measured"
    assert "loa_ft" not in boat

    shown = cast.ivy.get(f"/candidates/{boat['id']}?units=imperial").json()
    assert {name: shown[name] for name in FEET} == FEET
    assert shown["displacement_lb"] == 14_000
    assert shown["sail_area_sqft"] == 640
    assert shown["sources"]["draught_ft"] == "measured"
    assert not set(IMPERIAL) & set(shown)
    assert shown["ratios"] == boat["ratios"]


def test_lists_in_imperial(cast, list_id, boat_id):
    (row,) = cast.ivy.get(f"/lists/{list_id}/candidates?units=imperial").json()["results"]
    assert row["loa_ft"] == round(10 / 0.3048, 4)


def test_sent_back_as_shown_it_stays_measured(cast, list_id):
    boat = add_boat(cast, list_id, draught_m=1.63, sources={"draught_m": "measured"})
    path = f"/candidates/{boat}"
    shown = cast.ben.get(f"{path}?units=imperial").json()
    cast.ben.change("PATCH", path, {"draught_ft": shown["draught_ft"]})
    after = cast.ben.get(path).json()
    assert after["draught_m"] == pytest.approx(1.63, abs=1e-4)
    assert after["sources"]["draught_m"] == "measured"


def test_null_in_feet(cast, boat_id):
    changed = cast.ben.change("PATCH", f"/candidates/{boat_id}", {"loa_ft": None})
    assert changed.json()["loa_m"] is None


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"loa_m": 10.0, "loa_ft": 33.0}, "/loa_ft"),
        ({"lwl_ft": 40.0, "lwl_m": ...}, "/lwl_ft"),  # longer than LOA
        ({"ballast_lb": 20_000, "ballast_kg": ...}, "/ballast_lb"),
        ({"loa_ft": 1000, "loa_m": ...}, "/loa_ft"),
        ({"sources": {"loa_m": "claimed", "draft_ft": "claimed"}}, "/sources/draft_ft"),
        ({"draught_m": ..., "sources": {"draught_ft": "claimed"}}, "/sources/draught_ft"),
    ],
)
def test_bad_fields_are_named_as_they_were_sent(cast, list_id, wrong, at):
    body = {name: value for name, value in {**BOAT, **wrong}.items() if value is not ...}
    assert pointers(cast.ben.post(f"/lists/{list_id}/candidates", body)) == {at}
    assert not Candidate.objects.exists()


def test_pointer_as_sent():
    sent = {"loa_ft": 3, "sources": {"lwl_ft": "claimed"}}
    assert pointer_as_sent("/loa_m", sent) == "/loa_ft"
    assert pointer_as_sent("/sources/lwl_m", sent) == "/sources/lwl_ft"
    assert pointer_as_sent("/lwl_m", sent) == "/lwl_m"
    assert pointer_as_sent("/place/latitude", sent) == "/place/latitude"
