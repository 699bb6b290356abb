"""The board as a table, a picture and a page to print. Each carries the caution."""

import csv
import io
from collections.abc import Mapping, Sequence

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.board.selectors import Board
from apps.appraisal.columns import COLUMNS, READ
from apps.appraisal.figures import Json
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


# What the pictures show: of the same figures there is one drawing, whatever else readers see.
BOARD_DRAWN = ("list", "budget", "currency", "warnings", "caution")
ROW_DRAWN = ("place", "name", "upfront", "later", "within_budget", "strike_off_advised", "missing")
WATERFALL_DRAWN = ("candidate", "waterfall", "warnings", "caution")


def board_picture(board: Board, kind: str) -> bytes:
    rows = [_only(ROW_DRAWN, row) for row in board["candidates"]]
    return _board_drawn({**_only(BOARD_DRAWN, board), "candidates": rows}, kind)


@kept_by_content
def _board_drawn(board: Json, kind: str) -> bytes:
    # The plotting library loads slowly, so it is imported only for a picture.
    from apps.appraisal.board.pictures import board_figure
    from apps.common.drawing import drawn

    return drawn(board_figure(board), kind)


def waterfall_picture(explanation: Json) -> bytes:
    return _waterfall_drawn(_only(WATERFALL_DRAWN, explanation))


@kept_by_content
def _waterfall_drawn(explanation: Json) -> bytes:
    from apps.appraisal.board.pictures import waterfall_figure
    from apps.common.drawing import drawn

    return drawn(waterfall_figure(explanation), "svg")


def _only(parts: Sequence[str], of: Mapping[str, object]) -> Json:
    return {part: of[part] for part in parts}


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


def page_row(row: BoardRow) -> list[Json]:
    """Cells of the page. For a boat that cannot be priced, one wide cell replaces the costs."""
    priced = row["upfront"] is not None
    cells: list[Json] = []
    for column in READ:
        if priced or not column.of_cost:
            holds = "figure" if column.holds == "figures" else "wide"
            advised = column.name == ADVICE and row["strike_off_advised"]
            strong = " advised" if advised else ""
            cells.append({"column": column, "text": column.words(row), "class": holds + strong})
        elif "span" in cells[-1]:
            cells[-1]["span"] += 1
        else:
            cells.append({"column": column, "text": sentences.no_cost(row), "span": 1})
    return cells


def picture_described(board: Board) -> str:
    """What the picture shows, for readers who cannot see it."""
    lines = [
        f"{row['place']}. {row['name']}: {sentences.place(row)}" for row in board["candidates"]
    ]
    return " ".join(["What each boat costs up front against the budget.", *lines])
