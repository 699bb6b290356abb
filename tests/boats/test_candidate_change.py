"""Changing a boat."""

import pytest

from apps.boats.models import Candidate
from tests.boats.conftest import add_boat, events, revision, usd
from tests.conftest import pointers


def patch(cast, boat_id, body, who="bea"):
    return getattr(cast, who).change("PATCH", f"/candidates/{boat_id}", body)


def test_it_works(cast, list_id, boat_id):
    before = revision(list_id)
    changed = patch(cast, boat_id, {"engine_year": 2009, "place": {"yard": "West yard"}})
    assert changed.status_code == 200, changed.content
    assert changed.json()["engine_year"] == 2009
    assert changed.json()["place"]["yard"] == "West yard"
    assert changed.json()["loa_m"] == 10.0
    assert changed["ETag"] == cast.ivy.get(f"/candidates/{boat_id}")["ETag"]
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "candidate.changed"


def test_null_takes_back_what_was_said(cast, boat_id):
    changed = patch(cast, boat_id, {"keel": None, "build_year": None}).json()
    assert (changed["keel"], changed["build_year"]) == (None, None)
    assert "keel" not in changed["sources"]


def test_a_place_is_kept_in_parts(cast, list_id):
    boat = add_boat(cast, list_id, place={"yard": "East", "latitude": 54.0, "longitude": 10.0})
    moved = patch(cast, boat, {"place": {"latitude": 55.0, "longitude": 11.0}}).json()
    place = {"yard": "East", "yard_id": None, "latitude": 55.0, "longitude": 11.0}
    assert moved["place"] == place
    assert pointers(patch(cast, boat, {"place": {"latitude": None}})) == {"/place/latitude"}


def test_a_source_holds_until_the_figure_changes(cast, list_id):
    boat = add_boat(cast, list_id, sources={"draught_m": "measured", "beam_m": "documented"})
    same = patch(cast, boat, {"draught_m": 1.6, "note": "seen twice"}).json()
    assert same["sources"]["draught_m"] == "measured"
    other = patch(cast, boat, {"draught_m": 1.9}).json()
    assert other["sources"]["draught_m"] == "claimed"
    assert other["sources"]["beam_m"] == "documented"
    both = patch(cast, boat, {"draught_m": 1.95, "sources": {"draught_m": "measured"}}).json()
    assert both["sources"]["draught_m"] == "measured"
    back = patch(cast, boat, {"sources": {"draught_m": None}}).json()
    assert back["sources"]["draught_m"] == "claimed"


def test_it_does_not_exist_for_strangers(cast, boat_id):
    for stranger in (cast.sten, cast.wim):
        assert stranger.patch(f"/candidates/{boat_id}", {"name": "x"}).status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_buyers_change_it(cast, boat_id, who):
    refused = patch(cast, boat_id, {"name": "x"}, who)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "organiser"]


def test_stale_and_missing_versions(cast, boat_id):
    path = f"/candidates/{boat_id}"
    seen = cast.ben.get(path)["ETag"]
    assert cast.ben.patch(path, {"name": "First"}, If_Match=seen).status_code == 200
    assert cast.bea.patch(path, {"name": "Late"}, If_Match=seen).status_code == 412
    assert cast.bea.patch(path, {"name": "Blind"}).status_code == 428
    assert Candidate.objects.get(pk=boat_id).name == "First"


@pytest.mark.parametrize(
    ("body", "at"),
    [
        # The stored values count too; the fault is at the field just sent.
        ({"loa_m": 7.0}, "/loa_m"),
        ({"lwl_m": 11.0}, "/lwl_m"),
        ({"displacement_kg": 1900.0}, "/displacement_kg"),
        ({"displacement_lb": 4000.0}, "/displacement_lb"),
        ({"ballast_kg": 5001.0}, "/ballast_kg"),
        ({"asking": usd("1.00")}, "/asking"),  # prices have their own records
        ({"stage": "bought"}, "/stage"),
        ({"name": None}, "/name"),
    ],
)
def test_bad_fields_are_named(cast, list_id, boat_id, body, at):
    before = revision(list_id)
    assert pointers(patch(cast, boat_id, body)) == {at}
    assert revision(list_id) == before
    assert cast.ivy.get(f"/candidates/{boat_id}").json()["version"] == 1
