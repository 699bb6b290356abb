"""The board's columns are one table, which the file, the page and the brief use."""

import csv
import io

from apps.appraisal.board.documents import board_csv, page_row
from apps.appraisal.columns import COLUMNS, READ


def row(**known) -> dict:
    cost = {"low": "1", "likely": "2", "high": "3000", "mean": "2", "currency": "USD"}
    return {
        "candidate_id": "c",
        "name": "Tern",
        "place": 1,
        "upfront": cost,
        "later": cost,
        "all_in": cost,
        "within_budget": 0.5,
        "missing": [],
        "condition": {"score": 60.0, "low": 50.0, "high": 70.0, "coverage": 0.25},
        "strike_off_advised": True,
        "sentences": ["So."],
        "advice": [],
        "before_buying": [],
        **known,
    }


UNPRICED = {"upfront": None, "later": None, "all_in": None, "within_budget": None, "missing": ["x"]}


def test_each_column_once():
    assert len({column.name for column in COLUMNS}) == len(COLUMNS)
    assert len({column.brief_title for column in READ}) == len(READ)


def test_the_file_has_all_of_them():
    board = {"warnings": [], "candidates": [row(), row(**UNPRICED)], "struck_off": []}
    told = csv.DictReader(io.StringIO(board_csv({**board, "caution": "Mind."})))
    first, second, _ = list(told)
    assert list(first) == [column.name for column in COLUMNS]
    assert (first["upfront_high"], first["worst_structural"], first["coverage"]) == (
        "3000",
        "",
        "0.25",
    )
    assert (second["upfront_high"], second["currency"]) == ("", "")


def test_the_page_has_those_with_a_title():
    said = [cell["text"] for cell in page_row(row())]
    assert said == [column.words(row()) for column in READ]
    assert said == [
        *("1", "Tern", "1", "2", "3,000", "50%", "2"),
        *("60 (50 to 70)", "25%", "strike off?"),
    ]


def test_what_cannot_be_priced_is_one_wide_cell():
    unpriced = row(**UNPRICED, strike_off_advised=False)
    cells = page_row(unpriced)
    assert sum(cell.get("span", 1) for cell in cells) == len(READ)
    assert [cell["text"] for cell in cells] == [
        *("1", "Tern", "cannot be priced yet"),
        *("60 (50 to 70)", "25%", "no price"),
    ]
