"""The sheet as plain text, for a lawyer."""

from collections.abc import Iterator

from apps.ownership.agreement.selectors import Sheet, SheetTopic, WordedClause
from apps.ownership.agreement.topics import NO_LEGAL_ADVICE


def sheet_text(sheet: Sheet) -> str:
    """Each topic with its question, the wording that holds, and who agreed to it when."""
    return "\n".join(_lines(sheet)) + "\n"


def _lines(sheet: Sheet) -> Iterator[str]:
    yield f"Owning a boat together: {sheet.group.name}"
    yield ""
    yield NO_LEGAL_ADVICE
    yield ""
    yield f"Buyers: {', '.join(one.name for one in sheet.buyers) or 'nobody yet'}"
    for number, one in enumerate(sheet.topics, start=1):
        yield ""
        yield f"{number}. {one.topic.title}"
        yield one.topic.question
        yield ""
        yield words_of(one)
        if one.clause is not None:
            yield ""
            yield from consents_in_words(one.clause)


def words_of(one: SheetTopic) -> str:
    return "Nothing is written here yet." if one.clause is None else one.clause.wording.text


def consents_in_words(clause: WordedClause) -> Iterator[str]:
    """Who wrote the wording that holds, who agreed to it, and who has not; times in UTC."""
    wording = clause.wording
    at = f"{wording.created_at:%Y-%m-%d}"
    yield f"Wording {wording.number}, written by {wording.written_by.name} on {at}."
    for consent in wording.consents.all():
        yield f"{consent.person.name} agreed on {consent.created_at:%Y-%m-%d at %H:%M} UTC."
    if clause.missing:
        yield f"Not yet agreed: {', '.join(one.name for one in clause.missing)}."
