"""The board as a table, a picture and a page to print. Each carries the caution."""

import csv
import io
from typing import NotRequired, TypedDict

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.board.selectors import Board
from apps.appraisal.columns import COLUMNS, READ, BoardColumn
from apps.appraisal.envelope import AnswerHead
from apps.appraisal.looks.looks_selectors import ExplanationAnswer, StepRead
from apps.appraisal.stored.parts import Amount, Range
from apps.appraisal.words import sentences
from apps.common.csv_cells import harmless
from apps.common.processes.keeping import kept_by_content

ADVICE = "strike_off_advised"


def board_csv(board: Board) -> str:
    """RFC 4180 with a header. Warnings and caution are rows, so that a copied table keeps them."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow([column.name for column in COLUMNS])
    for one in board["warnings"]:
        writer.writerow(["", harmless(one["sentence"])])
    for row in [*board["candidates"], *board["struck_off"]]:
        writer.writerow([harmless(column.cell(row)) for column in COLUMNS])
    writer.writerow(["", harmless(board["caution"])])
    return out.getvalue()


# The same figures give one drawing, whatever else readers see: a picture gets only what it shows.


class RowDrawn(TypedDict):
    place: int | None
    name: str
    upfront: Range | None
    later: Range | None
    within_budget: float | None
    strike_off_advised: bool
    missing: list[str]


def row_drawn(row: BoardRow) -> RowDrawn:
    return {
        "place": row["place"],
        "name": row["name"],
        "upfront": row["upfront"],
        "later": row["later"],
        "within_budget": row["within_budget"],
        "strike_off_advised": row["strike_off_advised"],
        "missing": row["missing"],
    }


def board_picture(board: Board, kind: str) -> bytes:
    rows = [row_drawn(row) for row in board["candidates"]]
    name, notes = board["list"]["name"], notes_under(board)
    return _board_drawn(rows, board["budget"], board["currency"], name, notes, kind)


@kept_by_content
def _board_drawn(
    rows: list[RowDrawn], budget: Amount | None, currency: str, name: str, notes: str, kind: str
) -> bytes:
    # The plotting library loads slowly, so it is imported only for a picture.
    from apps.appraisal.board.pictures import board_figure
    from apps.common.drawing import drawn

    return drawn(board_figure(rows, budget, currency, name, notes), kind)


def waterfall_picture(explanation: ExplanationAnswer) -> bytes:
    name = explanation["candidate"]["name"]
    return _waterfall_drawn(explanation["waterfall"], name, notes_under(explanation))


@kept_by_content
def _waterfall_drawn(steps: list[StepRead], name: str, notes: str) -> bytes:
    from apps.appraisal.board.pictures import waterfall_figure
    from apps.common.drawing import drawn

    return drawn(waterfall_figure(steps, name, notes), "svg")


def notes_under(answer: AnswerHead) -> str:
    """Warnings and caution, which always belong under the picture."""
    return " ".join([*(one["sentence"] for one in answer["warnings"]), answer["caution"]])


def board_page(board: Board, zone: str) -> str:
    """zone: IANA time zone in which times are shown."""
    from apps.common.drawing import picture_inside

    picture = picture_inside(board_picture(board, "svg"))
    # The picture is generated here; matplotlib escapes the names in it.
    return render_to_string(
        "appraisal/board.html",
        {
            "board": board,
            "columns": READ,
            "rows": [page_row(row) for row in board["candidates"]],
            "zone": zone,
            "picture": mark_safe(picture),  # noqa: S308
            "described": picture_described(board),
        },
    )


class Cell(TypedDict):
    """span: how many columns a wide one takes, if it is not its own alone."""

    column: BoardColumn
    text: str
    style: str
    span: NotRequired[int]


def page_row(row: BoardRow) -> list[Cell]:
    """Cells of the page. For a boat that cannot be priced, one wide cell replaces the costs."""
    priced = row["upfront"] is not None
    cells: list[Cell] = []
    for column in READ:
        if priced or not column.of_cost:
            holds = "figure" if column.holds == "figures" else "wide"
            advised = column.name == ADVICE and row["strike_off_advised"]
            style = f"{holds} advised" if advised else holds
            cells.append({"column": column, "text": column.words(row), "style": style})
        elif "span" in cells[-1]:
            cells[-1]["span"] += 1
        else:
            text = sentences.no_cost(row["missing"])
            cells.append({"column": column, "text": text, "style": "wide", "span": 1})
    return cells


def picture_described(board: Board) -> str:
    """What the picture shows, for readers who cannot see it."""
    lines = [
        f"{row['place']}. {row['name']}: {sentences.place(row)}" for row in board["candidates"]
    ]
    return " ".join(["What each boat costs up front against the budget.", *lines])
