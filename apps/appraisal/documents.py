"""The board in other forms: a table, a picture, a page to print. All say what it is not."""

import csv
import io

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe

from apps.appraisal import sentences
from apps.appraisal.figures import Json

COLUMNS = (
    "place",
    "boat",
    "upfront_low",
    "upfront_likely",
    "upfront_high",
    "chance_within_budget",
    "later_mean",
    "all_in_low",
    "all_in_likely",
    "all_in_high",
    "currency",
    "condition",
    "condition_low",
    "condition_high",
    "worst_structural",
    "coverage",
    "strike_off_advised",
    "reasons",
    "before_buying",
    "struck_off_because",
    "candidate_id",
)
# A cell that begins like a formula is worked out by spreadsheets (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def board_csv(board: Json) -> str:
    """RFC 4180 with a header; warnings first and the caution last, for a table gets passed on."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in board["warnings"]:
        writer.writerow(["", harmless(one["sentence"])])
    for row in [*board["candidates"], *board["struck_off"]]:
        writer.writerow([harmless(cell) for cell in cells(row)])
    writer.writerow(["", harmless(board["caution"])])
    return out.getvalue()


def cells(row: Json) -> list[object]:
    nothing = dict.fromkeys(("low", "likely", "high", "mean", "currency"), "")
    upfront, later, all_in = (row[name] or nothing for name in ("upfront", "later", "all_in"))
    condition = row["condition"]
    return [
        row["place"],
        row["name"],
        upfront["low"],
        upfront["likely"],
        upfront["high"],
        row["within_budget"],
        later["mean"],
        all_in["low"],
        all_in["likely"],
        all_in["high"],
        all_in["currency"],
        condition["score"],
        condition["low"],
        condition["high"],
        (condition.get("worst_structural") or {}).get("level"),
        condition["coverage"],
        "yes" if row["strike_off_advised"] else "no",
        " ".join([*row["sentences"], *(one["sentence"] for one in row["advice"])]),
        " ".join(one["sentence"] for one in row["before_buying"]),
        row.get("stage_reason", ""),
        row["candidate_id"],
    ]


def harmless(cell: object) -> object:
    if cell is None:
        return ""
    if isinstance(cell, str) and cell.startswith(FORMULA):
        return f"'{cell}"
    return cell


def board_picture(board: Json, kind: str) -> bytes:
    # The plotting library takes a while to load: only who wants a picture pays for it.
    from apps.appraisal.pictures import board_figure
    from apps.common.drawing import drawn

    return drawn(board_figure(board), kind)


def waterfall_picture(explanation: Json) -> bytes:
    from apps.appraisal.pictures import waterfall_figure
    from apps.common.drawing import drawn

    return drawn(waterfall_figure(explanation), "svg")


def board_page(board: Json, zone: str) -> str:
    """zone: the time zone of its moments, of the IANA database."""
    from apps.common.drawing import picture_inside

    picture = picture_inside(board_picture(board, "svg"))
    # The picture is our own; matplotlib escapes the names in it.
    return render_to_string(
        "appraisal/board.html",
        {
            "board": board,
            "zone": zone,
            "picture": mark_safe(picture),  # noqa: S308
            "described": picture_described(board),
        },
    )


def picture_described(board: Json) -> str:
    """What the picture shows, for who cannot see it."""
    lines = [
        f"{row['place']}. {row['name']}: {sentences.place(row)}" for row in board["candidates"]
    ]
    return " ".join(["What each boat costs up front against the budget.", *lines])
