"""Sellers' answers of whole lists for calculations, independent of the reader; withdrawn ones left
out.
"""

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from apps.boats.selectors import ListIds
from apps.sellers.models import SellerAnswer

Particular = float | str | None


@dataclass(frozen=True, slots=True)
class LiveAnswer:
    """One answer; `checkpoint` is empty for a question of no checkpoint."""

    candidate_id: uuid.UUID
    checkpoint: str
    checkpoint_version_id: int | None
    question: str
    level: int | None
    said_by: str
    said_on: date
    particulars: Mapping[str, Particular] = field(default_factory=dict)
    replaced: Mapping[str, Particular] = field(default_factory=dict)


def list_answers(list_id: uuid.UUID) -> list[LiveAnswer]:
    """All answers on the list that count, in the order of their days. One query."""
    return answers_on([list_id])


def answers_on(list_ids: ListIds) -> list[LiveAnswer]:
    """The same for several lists. One query."""
    rows = SellerAnswer.objects.filter(candidate__list_id__in=list_ids, withdrawn_at=None)
    return [
        LiveAnswer(
            candidate_id=row.candidate_id,
            checkpoint=row.checkpoint_id or "",
            checkpoint_version_id=row.checkpoint_version_id,
            question=row.question,
            level=row.level,
            said_by=row.said_by,
            said_on=row.said_on,
            particulars=row.particulars,
            replaced=row.replaced,
        )
        for row in rows.order_by("said_on", "pk")
    ]


def latest_answers(answers: Iterable[LiveAnswer]) -> list[LiveAnswer]:
    """Of one person's answers to one question only the latest; answers in the order of their
    days.
    """
    latest: dict[tuple[uuid.UUID, str, str, str], LiveAnswer] = {}
    for answer in answers:
        latest[answer.candidate_id, answer.checkpoint, answer.question, answer.said_by] = answer
    return list(latest.values())
