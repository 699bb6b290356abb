"""Answers kept as they are sent, so that a read neither decodes nor composes them.

The large part of an answer is composed once, when its results are stored, for each set of opinions
that results are stored for. It holds sentences with names of people and boats; these may change
without new results, so a mark stands in place of each name and is replaced when the answer is sent.
"""

import secrets
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from rest_framework.utils.encoders import JSONEncoder

from apps.appraisal.figures import Json
from apps.appraisal.models import NarrowerResults, ReadyAnswer
from apps.appraisal.opinions import Opinions
from apps.appraisal.words.phrases import Names
from apps.common.digests import sources

Of = NarrowerResults.Of
ID = 36  # characters of an id as text
TOKEN = 16


@dataclass(frozen=True)
class Ready:
    """One answer before it is stored. facts: what the rest of the answer needs to know of it."""

    opinions: Opinions
    body: str
    facts: Json = field(default_factory=dict)


@dataclass(frozen=True)
class Marks(Names):
    """Marks in place of names: a random token, which nobody's text contains; a letter; the id."""

    token: str = field(default_factory=lambda: secrets.token_hex(TOKEN // 2))

    def person(self, person_id: str | None) -> str:
        return self._mark("p", person_id) or super().person(person_id)

    def boat(self, candidate_id: str) -> str:
        return self._mark("b", candidate_id) or super().boat(candidate_id)

    def stage_reason(self, candidate_id: str) -> str:
        return self._mark("r", candidate_id) or super().stage_reason(candidate_id)

    def _mark(self, kind: str, id: str | None) -> str:
        return f"{self.token}{kind}{id}" if id and len(id) == ID else ""


def marked(compose: Callable[[Names], object]) -> str:
    """The text of what is composed, after the token of its marks."""
    marks = Marks()
    return marks.token + as_json(compose(marks))


def filled(text: str, names: Names) -> str:
    """The text of `marked` with names in place of the marks."""
    read = {"p": names.person, "b": names.boat, "r": names.stage_reason}
    first, *others = text[TOKEN:].split(text[:TOKEN])
    end = ID + 1
    known = {
        mark: as_json(read[mark[0]](mark[1:]))[1:-1] for mark in {part[:end] for part in others}
    }
    return first + "".join([known[part[:end]] + part[end:] for part in others])


def joined(head: object, body: str) -> bytes:
    """One JSON object of both."""
    return f"{as_json(head)[:-1]},{body[1:]}".encode()


_ENCODER = JSONEncoder(ensure_ascii=False, separators=(",", ":"))


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
