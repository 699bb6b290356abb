"""Boats from a table: every row reported, and stored only if all of them are fine."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.boats.models import Candidate, PriceRecord
from apps.boats.tables import MOST_ROWS
from tests.boats.conftest import events, revision
from tests.conftest import pointers

TABLE = """name,loa_m,beam_m,keel,build_year,asking.amount,asking.currency,place.yard,links
Plover,10.0,3.2,bolted_fin,1984,18000,USD,The creek,https://example.org/a https://example.org/b
Knot,9.1,,full,,,,,
"""


def send(who, list_id, csv=TABLE, **more):
    return who.post(f"/lists/{list_id}/imports", {"csv": csv, **more})


def faults(answer) -> set[tuple[int, str, str]]:
    return {
        (row["row"], fault["column"], fault["code"])
        for row in answer.json()["rows"]
        for fault in row["faults"]
    }


def test_it_works(cast, list_id):
    before = revision(list_id)
    answer = send(cast.ben, list_id, dry_run=False)
    assert answer.status_code == 201, answer.content
    rows = answer.json()["rows"]
    assert [(row["row"], row["name"], row["faults"]) for row in rows] == [
        (2, "Plover", []),
        (3, "Knot", []),
    ]
    boat = cast.ben.get(f"/candidates/{rows[0]['candidate']}").json()
    assert (boat["loa_m"], boat["keel"], boat["build_year"]) == (10.0, "bolted_fin", 1984)
    assert boat["asking"] == {"amount": "18000.00", "currency": "USD"}
    assert boat["place"]["yard"] == "The creek"
    assert boat["links"] == ["https://example.org/a", "https://example.org/b"]
    assert boat["sources"]["loa_m"] == "claimed"
    assert PriceRecord.objects.get().candidate_id == Candidate.objects.get(name="Plover").pk
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-2:] == ["candidate.added", "candidate.added"]


def test_what_she_has_at_all_is_a_column_too(cast, list_id):
    table = "name,steering,windlass,heater\nPlover,tiller,none,solid_fuel\nKnot,,,steam\n"
    assert faults(send(cast.ben, list_id, table)) == {(3, "heater", "invalid_choice")}
    row = send(cast.ben, list_id, table.replace("steam", ""), dry_run=False).json()["rows"][0]
    boat = cast.ben.get(f"/candidates/{row['candidate']}").json()
    assert (boat["steering"], boat["windlass"], boat["heater"]) == ("tiller", "none", "solid_fuel")
    assert (boat["holding_tank"], boat["teak_deck"]) == (None, None)


def test_a_dry_run_is_the_usual_and_stores_nothing(cast, list_id):
    answer = send(cast.ben, list_id)
    assert answer.status_code == 200
    assert answer.json()["fine"] is True
    assert answer.json()["dry_run"] is True
    assert [row["candidate"] for row in answer.json()["rows"]] == [None, None]
    assert not Candidate.objects.exists()


BAD = """name;loa_ft;lwl_ft;keel;asking.amount;asking.currency;place.latitude;sources.beam_m
Plover;38;40;bolted_fin;18000;USD;;
;31;;winged;;;;
Knot;thirty;;;-5;EUR;;
Dunlin;31;;;7000;EUR;54.1;measured
"""
WRONG = {
    (2, "lwl_ft", "longer_than_loa"),
    (3, "name", "required"),
    (3, "keel", "invalid_choice"),
    (4, "loa_ft", "not_a_number"),
    (4, "asking.amount", "min_value"),
    (5, "asking.currency", "no_exchange_rate"),
    (5, "place.longitude", "half_a_place"),
    (5, "sources.beam_m", "nothing_known"),
}


def test_every_row_is_reported_with_all_its_faults(cast, list_id):
    answer = send(cast.ben, list_id, BAD)
    assert answer.status_code == 200
    assert answer.json()["fine"] is False
    assert faults(answer) == WRONG


def test_one_bad_row_and_nothing_is_stored(cast, list_id):
    before = revision(list_id)
    answer = send(cast.ben, list_id, TABLE + "Ruff,0.5,,,,,,,\n", dry_run=False)
    assert pointers(answer) == {"/csv"}
    assert answer.json()["errors"][0]["detail"].startswith("Row 4, loa_m: ")
    assert faults(answer) == {(4, "loa_m", "min_value")}
    assert not Candidate.objects.exists()
    assert revision(list_id) == before


@pytest.mark.parametrize(
    ("csv", "fault"),
    [
        ("name,colour\nPlover,red\n", (1, "colour", "unknown_column")),
        ("name,loa_m,loa_m\nPlover,10,10\n", (1, "loa_m", "named_twice")),
        ("loa_m\n10\n", (1, "name", "missing_column")),
        ("name\n", (1, "", "no_rows")),
        ("name\nPlover,10\n", (2, "", "too_many_cells")),
        ('name\n"Plover\n', (2, "", "unreadable")),
        ("name\n" + "Plover\n" * (MOST_ROWS + 1), (1, "", "too_many_rows")),
    ],
)
def test_a_table_that_cannot_be_read_says_where(cast, list_id, csv, fault):
    assert fault in faults(send(cast.ben, list_id, csv))
    assert send(cast.ben, list_id, csv, dry_run=False).status_code == 422


def test_both_units_of_the_same_are_refused(cast, list_id):
    answer = send(cast.ben, list_id, "name,loa_m,loa_ft\nPlover,10,33\n")
    assert faults(answer) == {(2, "loa_ft", "both_units")}


def test_quotes_separators_and_marks_as_spreadsheets_write_them(cast, list_id):
    """RFC 4180: quoted cells hold separators, line breaks and doubled quotes."""
    csv = '\ufeffname\tnote\r\n"Plover"\t"Says ""sound"",\r\nhe thinks"\r\n\t\r\n'
    answer = send(cast.ben, list_id, csv, dry_run=False)
    assert answer.status_code == 201, answer.content
    assert Candidate.objects.get().note == 'Says "sound",\r\nhe thinks'


def test_an_id_that_is_taken_is_told_row_by_row(cast, list_id, boat_id, fresh_id):
    csv = f"name,id\nKnot,{boat_id}\nRuff,{fresh_id}\nDunlin,{fresh_id}\n"
    assert faults(send(cast.ben, list_id, csv)) == {(2, "id", "id_taken"), (4, "id", "id_taken")}


def test_more_rows_take_queries_for_their_events_only(cast, list_id):
    def queries(rows):
        csv = "name\n" + "Plover\n" * rows
        with CaptureQueriesContext(connection) as captured:
            assert send(cast.ben, list_id, csv).status_code == 200
        return len(captured)

    queries(1)
    assert queries(1) == queries(50)


def test_who_may(cast, list_id):
    assert send(cast.nobody, list_id).status_code == 401
    for stranger in (cast.wim, cast.sten):
        assert send(stranger, list_id).status_code == 404
    for dry_run in (True, False):
        assert send(cast.ivy, list_id, dry_run=dry_run).status_code == 403
        assert send(cast.hal, list_id, dry_run=dry_run).status_code == 403


def test_a_repeat_stores_no_boat_twice(cast, list_id):
    body = {"csv": TABLE, "dry_run": False}
    first = cast.ben.post(f"/lists/{list_id}/imports", body, Idempotency_Key="once")
    again = cast.ben.post(f"/lists/{list_id}/imports", body, Idempotency_Key="once")
    assert again.json() == first.json()
    assert Candidate.objects.count() == 2
