"""The history of an own catalogue, and differences between editions."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.catalogue.own import JOINT, WARM, said
from tests.conftest import pointers


@pytest.fixture
def changed(waters):
    """Three editions: a remedy's parts, the iron left out, one added; the first taken back."""
    said(waters.adam, f"{waters.of_club}/remedies/reseal", {"parts": [110, 210, 410]}, note="Ours")
    waters.sue.put(f"{waters.of_club}/checkpoints/iron", {"left_out": True})
    said(waters.adam, f"{waters.of_club}/checkpoints/club-worm", WARM)
    return waters


def test_it_works(changed):
    rows = changed.mia.get(f"{changed.of_club}/editions").json()["results"]
    assert [(row["edition"], row["code"], row["state"]) for row in rows] == [
        (1, "reseal", "own"),
        (2, "iron", "left_out"),
        (3, "club-worm", "own"),
    ]
    assert (rows[0]["own"], rows[0]["note"]) == ({"parts": [110, 210, 410]}, "Ours")
    assert (rows[1]["own"], rows[1]["by"]["name"]) == (None, "Sue")
    assert rows[2]["own"] == WARM


def test_of_one_thing(changed):
    said(changed.adam, f"{changed.of_club}/checkpoints/club-worm", {**WARM, "weight": 2})
    at = f"{changed.of_club}/editions?kind=checkpoints&code=club-worm&order=newest"
    rows = changed.mia.get(at).json()["results"]
    assert [row["own"]["weight"] for row in rows] == [2, 3]
    assert pointers(changed.mia.get(f"{changed.of_club}/editions?kind=scales")) == {"?kind"}


def test_what_differs_from_what_lies_underlying(changed):
    answer = changed.mia.get(f"{changed.of_club}/diff").json()
    found = {row["code"]: row for row in answer["results"]}
    assert {code: row["difference"] for code, row in found.items()} == {
        "reseal": "changed",
        "iron": "left_out",
        "club-worm": "added",
    }
    assert found["reseal"]["fields"] == [
        {"field": "parts", "before": [100, 200, 400], "after": [110, 210, 410]}
    ]
    worm = {field["field"]: field for field in found["club-worm"]["fields"]}
    assert worm["title"] == {"field": "title", "before": None, "after": WARM["title"]}
    assert all(field["after"] is None for field in found["iron"]["fields"])
    assert answer["editions"] == {"base": 1, "club": 3, "group": 0}


def test_between_two_editions(changed):
    at = f"{changed.of_club}/diff?from_edition=1&to_edition=2"
    assert [row["code"] for row in changed.mia.get(at).json()["results"]] == ["iron"]
    back = changed.mia.get(f"{changed.of_club}/diff?from_edition=3&to_edition=1").json()
    assert {row["code"]: row["difference"] for row in back["results"]} == {
        "iron": "added",
        "club-worm": "left_out",
    }
    assert changed.mia.get(f"{changed.of_club}/diff?to_edition=0").json()["results"] == []


def test_of_a_group_it_is_to_its_club(changed):
    own = {**JOINT, "weight": 5}
    said(changed.cast.ola, f"{changed.of_tern}/checkpoints/joint", own)
    rows = changed.cast.ivy.get(f"{changed.of_tern}/diff").json()["results"]
    assert [(row["code"], row["fields"]) for row in rows] == [
        ("joint", [{"field": "weight", "before": 4.5, "after": 5}])
    ]


def test_of_a_group_from_the_base(changed):
    said(changed.cast.ola, f"{changed.of_tern}/checkpoints/joint", {**JOINT, "weight": 5})
    at = f"{changed.of_tern}/diff?against=base"
    rows = changed.cast.ivy.get(at).json()["results"]
    assert {row["code"] for row in rows} == {"reseal", "iron", "club-worm", "joint"}
    refused = changed.cast.ivy.get(f"{at}&from_edition=1")
    assert pointers(refused) == {"?from_edition"}
    assert pointers(changed.cast.ivy.get(f"{changed.of_tern}/diff?against=x")) == {"?against"}


@pytest.mark.parametrize("name", ["from_edition", "to_edition"])
def test_an_edition_that_there_is_not(changed, name):
    refused = changed.mia.get(f"{changed.of_club}/diff?{name}=4")
    assert pointers(refused) == {f"?{name}"}
    assert refused.json()["errors"][0]["code"] == "no_such_edition"
    assert pointers(changed.mia.get(f"{changed.of_club}/diff?{name}=-1")) == {f"?{name}"}


def test_in_figures(changed):
    answer = changed.mia.get(changed.of_club).json()
    counts = {row["kind"]: row for row in answer["kinds"]}
    assert counts["checkpoints"] == {
        "kind": "checkpoints",
        "things": 3,
        "own": 1,
        "left_out": 1,
    }
    assert counts["remedies"]["own"] == 1
    assert answer["money"] == {"base_year": 2024, "currency": "USD", "reference_loa_m": 10}
    assert "not a survey" in answer["caution"]


def test_all_of_a_kind(changed):
    answer = changed.cast.ivy.get(f"{changed.of_tern}/checkpoints").json()
    rows = [(row["code"], row["whose"], row["state"]) for row in answer["results"]]
    assert rows == [
        ("joint", "base", "as_underlying"),  # in walking order
        ("mainsail", "base", "as_underlying"),
        ("club-worm", "club", "as_underlying"),
    ]
    left = changed.mia.get(f"{changed.of_club}/checkpoints").json()["results"][-1]
    assert (left["code"], left["state"], left["effective"]) == ("iron", "left_out", None)


PATHS = ("", "/editions", "/diff", "/checkpoints", "/remedies", "/checkpoints/joint")


@pytest.mark.parametrize("path", PATHS)
def test_who_may_read(changed, path):
    for who in (changed.sue, changed.adam, changed.mia):
        assert who.get(changed.of_club + path).status_code == 200
    for who in (changed.cast.sten, changed.cast.ivy, changed.gus):
        assert who.get(changed.of_club + path).status_code == 404
    assert changed.cast.ivy.get(changed.of_tern + path).status_code == 200
    for who in (changed.cast.sten, changed.gus, changed.sue):
        assert who.get(changed.of_tern + path).status_code == 404


@pytest.mark.parametrize("path", [path for path in PATHS if path != "/editions"])
def test_not_modified_until_anything_changes(changed, path):
    at = changed.of_tern + path
    seen = changed.cast.ivy.get(at)["ETag"]
    assert changed.cast.ivy.get(at, If_None_Match=seen).status_code == 304
    said(changed.sue, f"{changed.of_club}/running-costs/insurance", {"likely": 0.019})
    assert changed.cast.ivy.get(at, If_None_Match=seen).status_code == 200


@pytest.mark.parametrize("path", PATHS)
def test_many_take_as_many_queries_as_few(changed, path):
    def queries() -> int:
        changed.cast.ivy.get(changed.of_tern + path)
        with CaptureQueriesContext(connection) as taken:
            assert changed.cast.ivy.get(changed.of_tern + path).status_code == 200
        return len(taken)

    few = queries()
    for n in range(5):
        own = {**WARM, "title": f"Worm {n}"}
        said(changed.cast.ola, f"{changed.of_tern}/checkpoints/group-{n}", own)
        said(changed.sue, f"{changed.of_club}/checkpoints/club-{n}", own)
    assert queries() == few
