"""Where the people of a group differ: in findings, in votes, and in their orders."""

from collections.abc import Iterator
from textwrap import shorten

from apps.appraisal.board.answer import are_open
from apps.appraisal.board.selectors import Board
from apps.appraisal.columns import UNKNOWN
from apps.appraisal.stored.standing import Ranked
from apps.reports import words
from apps.reports.content import Block, Bullets, Column, Line, Paragraph, Part, Section, Table
from apps.reports.selectors import ListRead

MOST_BUYERS = 6  # wider would not fit on a sheet


def people_section(found: ListRead) -> Section:
    blocks: list[Block] = [Bullets(tuple(differences(found)))]
    blocks += orders(found)
    return Section("Where people differ", tuple(blocks))


def differences(found: ListRead) -> Iterator[Line]:
    for row in found.board["candidates"]:
        boat = found.boats.get(row["candidate_id"])
        if boat and boat.apart_on:
            yield Line(
                f"{words.listed(boat.apart_on)}.", lead=f"{row['name']}, two levels or more apart:"
            )
        if boat and len({vote for _, vote in boat.votes}) > 1:
            text = words.listed(f"{name} says {vote}" for name, vote in boat.votes)
            yield Line(f"{text}.", lead=f"{row['name']}, calls differ:")
    agreement = found.raters["agreement"]
    if agreement:
        yield Line(agreement["list"]["sentence"], lead="On what they see:")
    for member in found.board["members"]:
        if member["sentence"]:
            yield Line(member["sentence"], lead="On the order:")
    votes = found.board["votes"]
    for sentence in votes["sentences"] if votes else ():
        yield Line(sentence, lead="Counted together:")
    if votes and not votes["hidden"] and votes["methods_agree"]:
        yield Line("all three methods of counting give the same order.", lead="Counted together:")


def orders(found: ListRead) -> list[Block]:
    """Each boat's place on the board, by each method of counting, and with each buyer."""
    board, votes = found.board, found.board["votes"]
    if votes is None:
        return [Paragraph("No buyer has an order yet.")]
    if not are_open(votes):
        return [
            Paragraph(
                f"The combined order of the buyers is hidden from {found.reader} until "
                f"{found.reader} has given an opinion wherever others have, or "
                "the organiser opens it."
            )
        ]
    by_method = {
        "Schulze": votes["schulze"],
        "Borda": votes["borda"],
        "Kemeny": votes["kemeny"],
    }
    methods = [(title, places(order)) for title, order in by_method.items() if order]
    buyers = [(one["name"], places(one["places"])) for one in board["members"] if one["places"]]
    tables: list[Block] = [
        places_table(board, "The board, and the buyers' orders by method of counting", methods)
    ]
    if 0 < len(buyers) <= MOST_BUYERS:
        tables.append(places_table(board, "Each buyer's own order, as far as you may see", buyers))
    return tables


PlacesBy = list[tuple[str, dict[str, int]]]


def places(stored: list[Ranked]) -> dict[str, int]:
    return {one["candidate_id"]: one["place"] for one in stored}


def places_table(board: Board, caption: str, ranked: PlacesBy) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column("Boat"),
            Column("Board", "figures"),
            *(Column(shorten(title, 24, placeholder="…"), "figures") for title, _ in ranked),
        ),
        parts=(
            Part(
                tuple(
                    (
                        row["name"],
                        str(row["place"]),
                        *(str(of.get(row["candidate_id"], UNKNOWN)) for _, of in ranked),
                    )
                    for row in board["candidates"]
                )
            ),
        ),
    )
