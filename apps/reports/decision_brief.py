"""The decision brief of a list: what a group needs on paper for a decision in a meeting."""

import uuid
from collections.abc import Iterator, Sequence

from apps.accounts.models import Person
from apps.appraisal.board.selectors import Board
from apps.appraisal.envelope import AnswerHead
from apps.appraisal.looks.answer import RowWords, SurveyRead, VisitRead
from apps.appraisal.looks.looks_sentences import SURVEY_ANYWAY
from apps.appraisal.words import sentences
from apps.appraisal.words.phrases import money
from apps.common.wording import percent
from apps.reports import words
from apps.reports.brief_boats import boat_section, doubts_section
from apps.reports.brief_money import before_buying
from apps.reports.brief_offers import named, offers_section, on_the_table
from apps.reports.brief_people import people_section
from apps.reports.content import (
    Block,
    Bullets,
    CautionFrame,
    Column,
    Facts,
    Line,
    Paragraph,
    Part,
    ReportContent,
    Section,
    Table,
    WritingRoom,
)
from apps.reports.order_section import order_section
from apps.reports.selectors import ListRead, list_read

MOST_CHECKS = 10


def decision_brief(person: Person, list_id: uuid.UUID, wait: float = 0) -> ReportContent:
    return brief_of(list_read(person, list_id, wait))


def brief_of(found: ListRead) -> ReportContent:
    board = found.board
    return ReportContent(
        title=f"Decision brief: {board['list']['name']}",
        subtitle=(
            f"{found.candidate_list.group.name}; as {found.reader} may see it. "
            f"{how_fresh(board, found.time_zone)}"
        ),
        made_at=found.looks["computed_at"] or board["computed_at"],
        foot=f"Decision brief: {board['list']['name']}. A screening, not a survey.",
        blocks=(*warnings(found), CautionFrame(board["caution"], lead="Not a survey.")),
        sections=tuple(sections(found)),
    )


def warnings(found: ListRead) -> tuple[Block, ...]:
    """The warnings of all sources of the brief, each once."""
    answers = (found.board["warnings"], found.looks["warnings"], found.raters["warnings"])
    boats = (boat.warnings for boat in found.boats.values())
    text = dict.fromkeys(one["sentence"] for stated in (*answers, *boats) for one in stated)
    return tuple(CautionFrame(sentence, lead="Mind:") for sentence in text)


def sections(found: ListRead) -> Iterator[Section]:
    yield Section("In short", (Bullets(tuple(in_short(found))),))
    if found.board["candidates"]:
        yield order_section(found)
        yield Section(
            "Boat by boat",
            sections=tuple(boat_section(row, found) for row in found.board["candidates"]),
        )
        yield people_section(found)
        yield doubts_section(found)
        yield looks_section(found)
        yield survey_section(found)
        yield from offers_section(found)
    if found.board["struck_off"]:
        yield struck_off_section(found.board)
    yield from before_buying(found)
    yield to_decide(found)
    yield rests_on(found)


def how_fresh(answer: AnswerHead, zone: str) -> str:
    if answer["computed_at"] is None:
        return "Nothing has been worked out yet."
    behind = "" if answer["fresh"] else " Newer findings are not in it yet."
    failing = " The last attempt to work it out failed." if answer["failing"] else ""
    return f"Worked out {words.moment(answer['computed_at'], zone)}.{behind}{failing}"


# --- In short ------------------------------------------------------------------------------------


def in_short(found: ListRead) -> Iterator[Line]:
    board, rows = found.board, found.board["candidates"]
    yield Line(
        f"{words.capital(words.count(len(rows), 'boat'))} in the order, "
        f"{len(board['struck_off']) or 'none'} struck off."
    )
    if board["budget"] and board["required_confidence"] is not None:
        yield Line(
            f"{money(board['budget'])}, to be kept with a chance of at least "
            f"{percent(board['required_confidence'])}.",
            lead="The budget:",
        )
    if not rows:
        return
    first = rows[0]
    yield Line(f"{first['name']}. {sentences.place(first)}", lead="First:")
    advised = [row["name"] for row in rows if row["strike_off_advised"]]
    if advised:
        yield Line(
            f"there are reasons to strike off {words.listed(advised)}. Only you strike off.",
            lead="To strike off?",
        )
    for row in rows:
        if offer := on_the_table(row, found):
            yield Line(f"{row['name']}, {named(offer)}.", lead="On the table:")
    to_judge = [row["name"] for row in rows if row["before_buying"]]
    if to_judge:
        yield Line(
            f"a professional must judge something on {words.listed(to_judge)} before anybody buys.",
            lead="For a professional:",
        )
    doubted = sum(row["open_doubts"] for row in rows)
    if doubted:
        yield Line(
            f"{words.count(doubted, 'open doubt')} on structure, safety or flooding, which a "
            "professional's finding or a document must clear.",
            lead="Open:",
        )
    surveys = found.looks["surveys"]
    surveyed = [one["name"] for one in surveys if one["pays_now"]]
    if surveys:
        yield Line(
            f"{SURVEY_ANYWAY} A survey now of {words.listed(surveyed)} may change which boat "
            "comes first."
            if surveyed
            else f"{SURVEY_ANYWAY} A survey of any of them now would not change which boat "
            "comes first often enough to pay.",
            lead="A survey:",
        )
    if found.looks["settled"]:
        yield Line(found.looks["sentences"][0])
    yield Line("A buyer without a survey takes the risk of everything that nobody has seen.")


# --- What to do next -----------------------------------------------------------------------------


def looks_section(found: ListRead) -> Section:
    looks, of_costs = found.looks, found.looks["of_costs"]
    blocks: list[Block] = [Paragraph(how_fresh(looks, found.time_zone))]
    if looks["value"] is None:
        blocks.append(
            Paragraph("The boats cannot be compared yet, so the value of a look is not known.")
        )
    worthwhile = [one for one in looks["visits"] if value(one) >= 1]
    visits = [one for one in worthwhile if one["kind"] != "sea_trial"]
    trials = [one for one in worthwhile if one["kind"] == "sea_trial"]
    blocks += bullets("Visits, highest value first", visits[:MOST_CHECKS])
    blocks += bullets("Sea trials, highest value first", trials[:MOST_CHECKS])
    blocks += bullets("Single checks, highest value first", looks["checks"][:MOST_CHECKS])
    blocks += bullets("To ask the sellers", looks["questions"])
    blocks += bullets("Not compared", looks["left_out"])
    blocks += [Paragraph(sentence) for sentence in looks["sentences"]]
    # If not all boats are in the choice, the moves of the costs of all boats are shown too.
    if looks["left_out"] and of_costs["checks"]:
        blocks.append(
            Paragraph(of_costs["sentence"], lead="Effect of looks on the expected costs.")
        )
        blocks += bullets("Visits, largest effect first", of_costs["visits"][:MOST_CHECKS])
        blocks += bullets("Single checks, largest effect first", of_costs["checks"][:MOST_CHECKS])
    return Section("What to look at next", tuple(blocks))


def bullets(title: str, rows: Sequence[RowWords]) -> list[Block]:
    lines = tuple(Line(one["sentence"]) for one in rows)
    return [Paragraph("", lead=title), Bullets(lines)] if rows else []


def value(look: SurveyRead | VisitRead) -> float:
    return float(look["value"]["amount"])


def survey_section(found: ListRead) -> Section:
    surveys = found.looks["surveys"]
    if not surveys:
        return Section("A survey", (Paragraph("The value of a further one is not known."),))
    telling = [one for one in surveys if value(one) >= 1] or surveys[:1]
    lines = [Line(one["sentence"]) for one in telling]
    if others := len(surveys) - len(telling):
        lines.append(
            Line(f"Of {words.count(others, 'other boat')} it would not change which comes first.")
        )
    return Section(
        "A survey",
        (
            Paragraph(
                "The values are those of a professional's survey now, for the choice between "
                "the boats. You spend its fee, with the lift-out, on the boat that you buy in "
                "any case: it is lost only if you do not buy her after it. A buyer without a "
                "survey takes the risk of everything that nobody has seen."
            ),
            Bullets(tuple(lines)),
        ),
    )


def struck_off_section(board: Board) -> Section:
    return Section(
        "Struck off, and why",
        (
            Bullets(
                tuple(
                    Line(row["stage_reason"], lead=f"{row['name']}:") for row in board["struck_off"]
                )
            ),
        ),
    )


def to_decide(found: ListRead) -> Section:
    """A table for whoever takes the minutes, to be filled in by hand."""
    rows = tuple((row["name"], "", "", "") for row in found.board["candidates"])
    table = Table(
        caption="Decisions",
        columns=(
            Column("Boat", share=1.2),
            Column("Keep, strike off, survey, offer", "writing", share=1.6),
            Column("Who does it", "writing"),
            Column("By when", "writing", share=0.7),
        ),
        parts=(Part(rows),),
    )
    return Section(
        "To decide in the meeting",
        (
            Facts((("Held on", ""), ("Present", ""))),
            *((table,) if rows else ()),
            WritingRoom("Notes", lines=6),
        ),
        new_page=True,
    )


def rests_on(found: ListRead) -> Section:
    board, looks = found.board, found.looks
    hidden = [row["name"] for row in board["candidates"] if row["opinions_hidden"]]
    blocks: list[Block] = [
        Facts(
            (
                (
                    "Order and costs",
                    f"revision {board['revision']}. {how_fresh(board, found.time_zone)}",
                ),
                (
                    "Looks and surveys",
                    f"revision {looks['revision']}. {how_fresh(looks, found.time_zone)}",
                ),
                ("Method", f"version {board['method']}"),
            )
        )
    ]
    if hidden:
        blocks.append(
            Paragraph(
                f"The others' valuations of {words.listed(hidden)} are hidden from "
                f"{found.reader} until {found.reader} gives one, or the organiser opens them."
            )
        )
    return Section("Sources of this brief", tuple(blocks))
