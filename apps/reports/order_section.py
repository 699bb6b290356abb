"""The order of the boats in the decision brief, with its pictures and its table."""

from collections.abc import Iterator
from math import ceil

from apps.appraisal.columns import READ
from apps.appraisal.figures import Json
from apps.appraisal.words.phrases import money
from apps.reports import words
from apps.reports.content import (
    Column,
    Paragraph,
    Part,
    Picture,
    Section,
    Table,
)
from apps.reports.selectors import ListRead

BOATS_A_PICTURE = 24  # more would not fit on a sheet


def order_section(found: ListRead) -> Section:
    board = found.board
    return Section(
        "The order",
        (
            *range_pictures(board),
            order_table(found),
            *condition_pictures(board),
            *(Paragraph(sentence) for sentence in board["sentences"]),
        ),
    )


def chunks(rows: list[Json]) -> Iterator[list[Json]]:
    """As few pictures as possible, with about equal numbers of boats."""
    if rows:
        size = ceil(len(rows) / ceil(len(rows) / BOATS_A_PICTURE))
        for start in range(0, len(rows), size):
            yield rows[start : start + size]


def which(rows: list[Json]) -> str:
    first, last = rows[0]["place"], rows[-1]["place"]
    return f"place {first}" if first == last else f"places {first} to {last}"


def range_pictures(board: Json) -> Iterator[Picture]:
    """Each boat's cost against the budget, on one scale for all."""
    costs = [row["upfront"] for row in board["candidates"] if row["upfront"]]
    if not costs or not board["budget"]:
        return
    edges = [float(cost[edge]) for cost in costs for edge in ("low", "high")]
    edges.append(float(board["budget"]["amount"]))
    room = (max(edges) - min(edges)) or 1.0
    span = [min(edges) - 0.06 * room, max(edges) + 0.06 * room]
    for rows in chunks(board["candidates"]):
        yield Picture(
            chart="ranges",
            drawn_from={
                "candidates": [of_row(row) for row in rows],
                "budget": board["budget"],
                "currency": board["currency"],
                "span": span,
            },
            alt=ranges_in_words(rows, board),
            caption=(
                f"Cost up front against the budget, {which(rows)}: price, fees, reserve and "
                "work that "
                "cannot wait. The line spans 80% of the outcomes, the disc is the middle one; "
                "dotted and open lie beyond the budget. Beside it the chance of staying "
                "within, and "
                "what can wait. The table says the same in figures."
            ),
        )


DRAWN = (
    "missing",
    "place",
    "name",
    "upfront",
    "later",
    "within_budget",
    "condition",
    "strike_off_advised",
)


def of_row(row: Json) -> Json:
    return {name: row[name] for name in DRAWN}


def ranges_in_words(rows: list[Json], board: Json) -> str:
    limit = float(board["budget"]["amount"])
    priced = [row for row in rows if row["upfront"]]
    within = [row["name"] for row in priced if float(row["upfront"]["likely"]) <= limit]
    text = f"A line for each of {words.count(len(rows), 'boat')}, against a budget of "
    text += f"{money(board['budget'])}. "
    if not priced:
        return text + "None of them can be priced yet."
    if not within:
        return text + "The middle outcome is within the budget for none."
    return text + f"The middle outcome is within the budget for {words.listed(within)}."


def condition_pictures(board: Json) -> Iterator[Picture]:
    for rows in chunks(board["candidates"]):
        known = [row for row in rows if row["condition"]["score"] is not None]
        if not known:
            continue
        best = max(known, key=lambda row: row["condition"]["score"])
        worst = min(known, key=lambda row: row["condition"]["score"])
        yield Picture(
            chart="conditions",
            drawn_from={"candidates": [of_row(row) for row in rows]},
            alt=(
                f"A line for each of {words.count(len(rows), 'boat')}. Best is {best['name']} with "
                f"{best['condition']['score']:.0f}, worst {worst['name']} with "
                f"{worst['condition']['score']:.0f} of 100."
            ),
            caption=(
                f"Condition, {which(rows)}: the disc is the score of the findings, the line an 80% "
                "interval. Beside it is the part of what matters that anybody looked at: the rest "
                "is not fine, but unknown."
            ),
        )


def order_table(found: ListRead) -> Table:
    board = found.board
    return Table(
        caption=(
            f"In the group's order; in {board['currency']}, cost up front from low to high, "
            "then work that can wait"
        ),
        columns=tuple(Column(one.brief_title, one.holds, one.share) for one in READ),
        parts=(Part(tuple(tuple(one.words(row) for one in READ) for row in board["candidates"])),),
        names=1,
    )
