"""Answers kept as they are sent, so that a read neither decodes nor composes them.

The large part of an answer is composed once, when its results are stored, for each set of opinions
that results are stored for. It holds sentences with names of people and boats; these may change
without new results, so a mark stands in place of each name and is replaced when the answer is sent.
"""

import secrets
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from rest_framework.utils.encoders import JSONEncoder

from apps.appraisal.models import NarrowerResults, ReadyAnswer
from apps.appraisal.opinions import Opinions
from apps.appraisal.words.phrases import Names
from apps.common.digests import sources

Of = NarrowerResults.Of
ID = 36  # characters of an id as text


@dataclass(frozen=True)
class Ready:
    """One answer before it is stored. facts: what the rest of the answer needs to know of it."""

    opinions: Opinions
    body: str
    facts: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Marks(Names):
    """Marks in place of names: a random token, which nobody's text contains, and a number.

    numbers: by the letter of what is meant, and its id.
    """

    token: str = field(default_factory=lambda: secrets.token_hex(8))
    numbers: dict[str, int] = field(default_factory=dict)

    def person(self, person_id: str | None) -> str:
        return self._mark("p", person_id) or super().person(person_id)

    def boat(self, candidate_id: str) -> str:
        return self._mark("b", candidate_id) or super().boat(candidate_id)

    def stage_reason(self, candidate_id: str) -> str:
        return self._mark("r", candidate_id) or super().stage_reason(candidate_id)

    def _mark(self, kind: str, id: str | None) -> str:
        if not id or len(id) != ID:
            return ""
        return f"{self.token}({self.numbers.setdefault(kind + id, len(self.numbers))})s"


def marked(compose: Callable[[Names], object]) -> str:
    """A line with what the numbers stand for; then what is composed, as a format for `%`."""
    marks = Marks()
    text = str(_ASCII_ENCODER.encode(compose(marks)))
    return f"{','.join(marks.numbers)}\n" + text.replace("%", "%%").replace(marks.token, "%")


def filled(body: str, names: Names) -> bytes:
    """What `marked` gives, with the names in their places."""
    read = {"p": names.person, "b": names.boat, "r": names.stage_reason}
    meant, _, format = body.partition("\n")
    found = (read[one[0]](one[1:]) for one in meant.split(",") if one)
    return format.encode() % {
        b"%d" % number: as_json(name)[1:-1].encode() for number, name in enumerate(found)
    }


def joined(head: object, body: bytes) -> bytes:
    """One JSON object of both."""
    return b",".join((as_json(head)[:-1].encode(), body[1:]))


_ENCODER = JSONEncoder(ensure_ascii=False, separators=(",", ":"))
# ASCII is read from the database and sent in a fraction of the time.
_ASCII_ENCODER = JSONEncoder(separators=(",", ":"))


def as_json(content: Any) -> str:
    return str(_ENCODER.encode(content))


def ready_store(
    list_id: uuid.UUID, of: Of, computed_at: datetime, answers: Sequence[Ready]
) -> None:
    """Replace the kept answers of one kind, in the transaction of the results. Two queries."""
    ReadyAnswer.objects.filter(list_appraisal=list_id, of=of).delete()
    ReadyAnswer.objects.bulk_create(
        ReadyAnswer(
            list_appraisal_id=list_id,
            of=of,
            rests_on=one.opinions.stored,
            computed_at=computed_at,
            sources=sources(),
            facts=one.facts,
            body=one.body,
        )
        for one in answers
    )
