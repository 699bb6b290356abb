"""The day sheet: what people take along on paper to look at boats."""

import uuid
from collections.abc import Iterator

from apps.accounts.models import Person
from apps.appraisal.columns import UNKNOWN
from apps.common.wording import PRACTICE_FIRST
from apps.reports import content, words
from apps.reports.boat_sheet import boat_sheet, when, yard_of
from apps.reports.content import (
    WRITE,
    Block,
    Bullets,
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
from apps.reports.looks import LookToMake
from apps.reports.outings import DayParty, HiddenLook, Outing, trip_outing, viewing_outing
from apps.viewings.checklists import SCREENING


def viewing_sheet(person: Person, viewing_id: uuid.UUID) -> ReportContent:
    return sheet_of(viewing_outing(person, viewing_id))


def trip_sheet(person: Person, trip_id: uuid.UUID) -> ReportContent:
    return sheet_of(trip_outing(person, trip_id))


def sheet_of(outing: Outing) -> ReportContent:
    return ReportContent(
        title=f"Day sheet: {outing.name}",
        subtitle=f"{outing.group}. {outing.day:%A}, {words.day(outing.day)}.",
        made_at=outing.computed_at,
        foot=f"Day sheet: {outing.name}, {words.day(outing.day)}. A screening, not a survey.",
        blocks=tuple(first_sheet(outing)),
        sections=(
            *ways(outing),
            *cautions(outing),
            *left_out(outing),
            *(section for drive in outing.drives for section in sheets(drive, outing)),
            afterwards(),
        ),
    )


def first_sheet(outing: Outing) -> Iterator[Block]:
    yield content.CautionFrame(SCREENING, lead="Not a survey.")
    if outing.behind:
        yield content.CautionFrame(outing.behind, lead="Mind:")
    if outing.note:
        yield Paragraph(outing.note, lead="Note:")
    if outing.is_one_visit:
        (drive,) = outing.drives
        yield Facts((("Who goes", words.listed(drive.people)),))
    yield Facts(
        (
            ("Emergency number there", WRITE),
            ("Yard or harbour office", WRITE),
            ("Who knows when we are back", WRITE),
        )
    )


def cautions(outing: Outing) -> Iterator[Section]:
    """All cautions of the day's checks, once for all boats."""
    carried = {caution.code: caution for look in outing.looks for caution in look.cautions}
    if carried:
        lines = tuple(
            Line(f"{one.text} Ask first: {one.defer_to}.", lead=f"{one.title}:")
            for one in carried.values()
        )
        to_sea = any(look.is_sea_trial for look in outing.looks)
        yield Section(
            "Before you cast off" if to_sea else "Before anybody climbs a ladder",
            (
                Paragraph(
                    f"These are the usual cautions. {PRACTICE_FIRST} In doubt leave it, and write "
                    "down that you could not look."
                ),
                Bullets(lines),
            ),
        )


# --- Drives --------------------------------------------------------------------------------------


def ways(outing: Outing) -> Iterator[Section]:
    """Who drives where; a single visit has this on the boat's own sheet."""
    if not outing.is_one_visit:
        for drive in outing.drives:
            yield Section(drive.label, tuple(way(drive, outing)))


def sheets(drive: DayParty, outing: Outing) -> Iterator[Section]:
    """A sheet for each boat on the route."""
    whose = f", {drive.label}" if len(outing.drives) > 1 else ""
    for number, look in enumerate(drive.looks, start=1):
        if isinstance(look, LookToMake):
            title = f"{number}. {look.visit.candidate.name}{whose}"
            yield boat_sheet(look, title, apart=not outing.is_one_visit)


def way(drive: DayParty, outing: Outing) -> Iterator[Block]:
    yield Facts((("Who goes", words.listed(drive.people)), *drive.facts))
    if not drive.looks:
        yield Paragraph("No boat is on this way.")
        return
    yield Table(
        caption="In this order",
        columns=(
            Column("Time", share=1.5),
            Column("Boat", share=1.6),
            Column("Where", share=2.2),
            Column("Way there", share=1.3),
        ),
        parts=(Part(tuple(way_row(look, outing.zone) for look in drive.looks)),),
        names=1,
    )


def way_row(look: LookToMake | HiddenLook, zone: str) -> tuple[str, ...]:
    if isinstance(look, HiddenLook):
        from_to = f"{words.clock(look.starts_at, zone)} to {words.clock(look.ends_at, zone)}"
        return (from_to, "a boat of others", "", "")
    boat = look.visit.candidate
    return (when(look), boat.name, yard_of(boat) or "nobody said", look.visit.way or UNKNOWN)


def left_out(outing: Outing) -> Iterator[Section]:
    if outing.left_out:
        lines = tuple(Line(f"{why}.", lead=f"{name}:") for name, why in outing.left_out)
        yield Section("Not on this day", (Bullets(lines),))


def afterwards() -> Section:
    return Section(
        "Afterwards",
        (
            Paragraph(
                "Send in each person's own findings before you discuss them: findings made "
                "independently are worth more than findings they agreed on."
            ),
            WritingRoom("Notes on the day", lines=8),
        ),
    )
