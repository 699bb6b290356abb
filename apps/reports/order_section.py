"""The order of the boats in the decision brief, with its pictures and its table."""

from collections.abc import Iterator
from math import ceil

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.board.documents import row_drawn
from apps.appraisal.board.selectors import Board
from apps.appraisal.columns import READ
from apps.appraisal.stored.parts import Amount
from apps.appraisal.words.phrases import money
from apps.reports import words
from apps.reports.content import (
    Column,
    ConditionDrawn,
    ConditionsDrawn,
    Paragraph,
    Part,
    Picture,
    RangesDrawn,
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


def chunks(rows: list[BoardRow]) -> Iterator[list[BoardRow]]:
    """As few pictures as possible, with about equal numbers of boats."""
    if rows:
        size = ceil(len(rows) / ceil(len(rows) / BOATS_A_PICTURE))
        for start in range(0, len(rows), size):
            yield rows[start : start + size]


def which(rows: list[BoardRow]) -> str:
    first, last = rows[0]["place"], rows[-1]["place"]
    return f"place {first}" if first == last else f"places {first} to {last}"


def range_pictures(board: Board) -> Iterator[Picture]:
    """Each boat's cost against the budget, on one scale for all."""
    costs = [row["upfront"] for row in board["candidates"] if row["upfront"]]
    budget = board["budget"]
    if not costs or not budget:
        return
    edges = [float(edge) for cost in costs for edge in (cost["low"], cost["high"])]
    edges.append(float(budget["amount"]))
    room = (max(edges) - min(edges)) or 1.0
    span = (min(edges) - 0.06 * room, max(edges) + 0.06 * room)
    for rows in chunks(board["candidates"]):
        yield Picture(
            chart="ranges",
            drawn_from=RangesDrawn(
                candidates=[row_drawn(row) for row in rows],
                budget=budget,
                currency=board["currency"],
                span=span,
            ),
            alt=ranges_in_words(rows, budget),
            caption=(
                f"Cost up front against the budget, {which(rows)}: price, fees, reserve and "
                "work that "
                "cannot wait. The line spans 80% of the outcomes, the disc is the middle one; "
                "dotted and open lie beyond the budget. Beside it the chance of staying "
                "within, and "
                "what can wait. The table says the same in figures."
            ),
        )


def ranges_in_words(rows: list[BoardRow], budget: Amount) -> str:
    limit = float(budget["amount"])
    priced = [(row["name"], row["upfront"]) for row in rows if row["upfront"]]
    within = [name for name, cost in priced if float(cost["likely"]) <= limit]
    text = f"A line for each of {words.count(len(rows), 'boat')}, against a budget of "
    text += f"{money(budget)}. "
    if not priced:
        return text + "None of them can be priced yet."
    if not within:
        return text + "The middle outcome is within the budget for none."
    return text + f"The middle outcome is within the budget for {words.listed(within)}."


def condition_drawn(row: BoardRow) -> ConditionDrawn:
    return {"place": row["place"], "name": row["name"], "condition": row["condition"]}


def condition_pictures(board: Board) -> Iterator[Picture]:
    for rows in chunks(board["candidates"]):
        scores = ((row["condition"]["score"], row["name"]) for row in rows)
        known = [(score, name) for score, name in scores if score is not None]
        if not known:
            continue
        best, best_name = max(known, key=lambda one: one[0])
        worst, worst_name = min(known, key=lambda one: one[0])
        yield Picture(
            chart="conditions",
            drawn_from=ConditionsDrawn(candidates=[condition_drawn(row) for row in rows]),
            alt=(
                f"A line for each of {words.count(len(rows), 'boat')}. Best is {best_name} with "
                f"{best:.0f}, worst {worst_name} with {worst:.0f} of 100."
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
