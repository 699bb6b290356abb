"""The decision brief on prices: what to offer, what was offered, and what to ask a seller."""

from collections.abc import Iterator

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.looks.offer_advice import AsksRead, OfferingRead
from apps.appraisal.words.offering import NO_CONTRACT, SURVEY_FIRST
from apps.appraisal.words.phrases import about, at_most
from apps.common.wording import sum_of
from apps.purchase.models import Offer
from apps.purchase.offers.models import OfferCondition
from apps.reports import words
from apps.reports.content import (
    Block,
    Bullets,
    CautionFrame,
    Column,
    Line,
    Paragraph,
    Part,
    Section,
    Table,
)
from apps.reports.selectors import ListRead

NONE = "none"


def offers_section(found: ListRead) -> Iterator[Section]:
    """Nothing where no price can be named yet and none was named."""
    rows = tuple(_price_rows(found))
    boats = [_of_boat(row, found) for row in found.board["candidates"] if _in_play(row, found)]
    if rows or boats:
        blocks: list[Block] = [CautionFrame(SURVEY_FIRST), CautionFrame(NO_CONTRACT, lead="Mind:")]
        if rows:
            blocks.append(_prices(rows))
        yield Section("What to offer", tuple(blocks), tuple(boats))


def on_the_table(row: BoardRow, found: ListRead) -> Offer | None:
    offers = found.offers.get(row["candidate_id"], [])
    return next((one for one in offers if one.on_the_table), None)


def named(offer: Offer) -> str:
    """'we offered 21,400 USD on 5 March 2026, to be answered by 12 March 2026'."""
    text = f"{offer.get_side_display()} {sum_of(offer.amount, offer.currency)} on "
    text += words.day(offer.offered_on)
    if offer.state == Offer.State.MADE and offer.answer_by:
        text += f", to be answered by {words.day(offer.answer_by)}"
    return text


# --- All boats -----------------------------------------------------------------------------------


def _price_rows(found: ListRead) -> Iterator[tuple[str, ...]]:
    for row in found.board["candidates"]:
        offering = _offering(row, found)
        if offering is None:
            continue
        plan = offering["plan"]
        planned = [NONE, NONE, NONE]
        if plan:
            planned = [at_most(plan[name]) for name in ("opening", "target", "walk_away")]
            if plan["out_of_reach"]:
                planned[:2] = [NONE, NONE]
        yield row["name"], about(offering["asking"]), *planned


def _prices(rows: tuple[tuple[str, ...], ...]) -> Table:
    return Table(
        caption="Prices, as far as you may see what others think her worth",
        columns=(
            Column("Boat"),
            Column("Asked", "figures"),
            Column("Open at", "figures"),
            Column("Aim at", "figures"),
            Column("Walk away above", "figures"),
        ),
        parts=(Part(rows),),
    )


# --- One boat ------------------------------------------------------------------------------------


def _in_play(row: BoardRow, found: ListRead) -> bool:
    """Something was offered for her, she was surveyed, or she comes first."""
    boat = row["candidate_id"]
    known = _offering(row, found) is not None
    return boat in found.offers or (known and (boat in found.surveys or row["place"] == 1))


def _of_boat(row: BoardRow, found: ListRead) -> Section:
    trial = words.sea_trial_in_words(found.sea_trials.get(row["candidate_id"]))
    lines = list(_offers(found.offers.get(row["candidate_id"], []), trial))
    offering = _offering(row, found)
    if offering is not None:
        lines.append(Line(offering["plan_sentence"], lead="The price:"))
        lines += [Line(sentence) for sentence in offering["limit_sentences"]]
    blocks: list[Block] = [Bullets(tuple(lines))]
    if offering is not None:
        blocks += _asks(offering["asks"])
    return Section(row["name"], tuple(blocks))


def _offers(offers: list[Offer], sea_trial: str) -> Iterator[Line]:
    """The one on the table first, then those before it. sea_trial: whether one was made."""
    for one in offers:
        lead = "On the table:" if one.on_the_table else "Before:"
        parts = [named(one), one.get_state_display()]
        if one.conditions:
            parts.append(f"subject to {words.listed(_conditions(one, sea_trial))}")
        yield Line(" ".join([f"{'; '.join(parts)}.", *_notes(one)]), lead=lead)


def _conditions(offer: Offer, sea_trial: str) -> Iterator[str]:
    in_words, beside = dict(OfferCondition.choices), {OfferCondition.SEA_TRIAL: f" ({sea_trial})"}
    for one in offer.conditions:
        until = f" by {words.day(one['until'])}" if one["until"] else ""
        yield f"{in_words[one['code']]}{until}{beside.get(one['code'], '')}"


def _notes(offer: Offer) -> Iterator[str]:
    yield from (words.ended(text) for text in (offer.note, offer.reason) if text)


def _asks(asks: AsksRead) -> list[Block]:
    lines = tuple(Line(one["sentence"]) for one in asks["items"])
    head = Paragraph(asks["sentence"], lead="What to ask the seller.")
    return [head, Bullets(lines)] if lines else [head]


def _offering(row: BoardRow, found: ListRead) -> OfferingRead | None:
    boat = found.boats.get(row["candidate_id"])
    return boat.offering if boat else None
