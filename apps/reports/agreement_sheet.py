"""The owners' agreement in print: for their meeting, and for a lawyer."""

import uuid
from collections.abc import Iterator

from apps.accounts.models import Person
from apps.ownership.agreement.selectors import SheetTopic, sheet_of
from apps.ownership.agreement.text import consents_in_words, words_of
from apps.ownership.agreement.topics import NO_LEGAL_ADVICE
from apps.reports import words
from apps.reports.content import (
    Block,
    Bullets,
    CautionFrame,
    Facts,
    Line,
    Paragraph,
    ReportContent,
    Section,
    WritingRoom,
)


def agreement_sheet(person: Person, group_id: uuid.UUID) -> ReportContent:
    sheet = sheet_of(person, group_id)
    name = sheet.group.name
    return ReportContent(
        title=f"Owning a boat together: {name}",
        subtitle=f"Agreed by all on {sheet.agreed} of {len(sheet.topics)} topics",
        made_at=sheet.changed_at,
        foot=f"{name}: what the owners agree. No legal advice.",
        blocks=(
            CautionFrame(NO_LEGAL_ADVICE, lead="Mind:"),
            Facts((("Buyers", words.listed([one.name for one in sheet.buyers])),)),
        ),
        sections=tuple(
            Section(f"{number}. {one.topic.title}", tuple(_blocks(one)))
            for number, one in enumerate(sheet.topics, start=1)
        ),
    )


def _blocks(one: SheetTopic) -> Iterator[Block]:
    yield Paragraph(one.topic.question)
    if one.clause is None:
        yield WritingRoom("Your words", lines=4)
        return
    lead = "Your words:"
    for paragraph in words_of(one).splitlines():
        if paragraph.strip():
            yield Paragraph(paragraph, lead=lead)
            lead = ""
    yield Bullets(tuple(Line(sentence) for sentence in consents_in_words(one.clause)))
