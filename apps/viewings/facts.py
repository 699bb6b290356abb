"""Plain facts of a whole list for calculations, independent of the reader.

They contain only what counts: submitted, not superseded, not withdrawn.
"""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from apps.boats.selectors import ListIds
from apps.viewings.models import LIVE, Clearance, Finding, Submission


@dataclass(frozen=True)
class ConditionsMet:
    """The conditions of a look; None or "" if unknown."""

    where: str
    covered: bool | None
    mast_state: str
    engine_winterised: bool | None
    batteries_connected: bool | None
    seller_present: bool | None
    weather: str
    light: str
    walk_under_cover: bool | None = None


@dataclass(frozen=True)
class LiveFinding:
    """One finding that counts, with its author, capacity, time and conditions."""

    checkpoint: str
    checkpoint_version_id: int
    kind: str
    level: int | None
    reason: str
    sureness: Literal["sure", "fairly", "guess"]
    measured_value: float | None
    measured_unit: str
    candidate_id: uuid.UUID
    submission_id: uuid.UUID
    author_id: uuid.UUID
    author_name: str
    capacity: str
    profession: str
    viewing_id: uuid.UUID
    seen_at: datetime
    submitted_at: datetime
    conditions: ConditionsMet
    observed_at: datetime | None = None

    def when(self) -> datetime:
        return self.observed_at or self.submitted_at

    @property
    def professional(self) -> bool:
        return self.capacity == Submission.Capacity.PROFESSIONAL


@dataclass(frozen=True)
class LiveClearance:
    """One clearance that was not withdrawn; `dated_on` is the date of its document."""

    id: uuid.UUID
    candidate_id: uuid.UUID
    checkpoint: str
    basis: str
    level: int
    profession: str
    document: str
    dated_on: date
    added_by_id: uuid.UUID


def list_findings(list_id: uuid.UUID) -> list[LiveFinding]:
    """All findings on the list that count, oldest submission first. Two queries."""
    return findings_on([list_id])


def findings_on(list_ids: ListIds) -> list[LiveFinding]:
    """The same for several lists. Two queries.

    A submission has many findings, so they are read as plain rows and what they share is read once.
    """
    submissions = {
        submission.id: _shared(submission)
        for submission in Submission.objects.filter(
            LIVE, viewing__candidate__list_id__in=list_ids
        ).select_related("viewing", "author")
    }
    findings = (
        Finding.objects.filter(submission__viewing__candidate__list_id__in=list_ids)
        .order_by("submission__submitted_at", "submission_id", "pk")
        .values_list("submission_id", *OWN_FIELDS)
    )
    return [
        LiveFinding(*own, **submissions[submission_id])
        for submission_id, *own in findings
        if submission_id in submissions
    ]


# A finding's own fields, in the order of the first fields of `LiveFinding`.
OWN_FIELDS = (
    "checkpoint_id",
    "checkpoint_version_id",
    "kind",
    "level",
    "reason",
    "sureness",
    "measured_value",
    "measured_unit",
)


def _shared(submission: Submission) -> dict[str, Any]:
    """The fields that all findings of one submission share."""
    viewing = submission.viewing
    assert submission.submitted_at is not None  # a constraint holds what is submitted to it
    return {
        "candidate_id": viewing.candidate_id,
        "submission_id": submission.id,
        "author_id": submission.author_id,
        "author_name": submission.author.name,
        "capacity": submission.capacity,
        "profession": submission.profession,
        "viewing_id": viewing.id,
        # The start of the visit, but not after it was submitted.
        "seen_at": min(viewing.starts_at, submission.submitted_at),
        "submitted_at": submission.submitted_at,
        "observed_at": submission.observed_at,
        "conditions": ConditionsMet(**viewing.conditions),
    }


def latest_looks(findings: Iterable[LiveFinding]) -> list[LiveFinding]:
    """The findings of looks; of one person's looks at one checkpoint on one visit only the latest.

    Somebody with two phones may submit twice from a visit. Measured and judged findings are kept
    side by side. Use this for results, not for doubts: a doubt that was raised stays raised.
    """
    latest: dict[tuple[Any, ...], LiveFinding] = {}
    for look in findings:
        if look.level is None:
            continue
        by = (look.author_id, look.capacity, look.profession, look.viewing_id)
        key = (*by, look.checkpoint, look.measured_value is not None)
        latest[key] = max(look, latest.get(key, look), key=LiveFinding.when)
    return list(latest.values())


def list_clearances(list_id: uuid.UUID) -> list[LiveClearance]:
    """All clearances on the list that were not withdrawn, oldest first. One query."""
    return clearances_on([list_id])


def clearances_on(list_ids: ListIds) -> list[LiveClearance]:
    """The same for several lists. One query."""
    clearances = Clearance.objects.filter(candidate__list_id__in=list_ids, withdrawn_at=None)
    return [
        LiveClearance(
            id=clearance.id,
            candidate_id=clearance.candidate_id,
            checkpoint=clearance.checkpoint_id,
            basis=clearance.basis,
            level=clearance.level,
            profession=clearance.profession,
            document=clearance.document,
            dated_on=clearance.dated_on,
            added_by_id=clearance.added_by_id,
        )
        for clearance in clearances.order_by("pk")
    ]
