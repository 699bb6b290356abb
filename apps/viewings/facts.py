"""Plain facts of a whole list for calculations, independent of the reader.

They contain only what counts: submitted, not superseded, not withdrawn.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from apps.boats.models import Candidate
from apps.boats.selectors import ListIds
from apps.catalogue.applicability import hampered
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.viewings.checklists import hindrances_in
from apps.viewings.models import LIVE, Clearance, Finding, Submission, Viewing


@dataclass(frozen=True)
class ConditionsMet:
    """The kind and the conditions of a look; None or "" if unknown."""

    where: str
    covered: bool | None
    mast_state: str
    engine_winterised: bool | None
    batteries_connected: bool | None
    seller_present: bool | None
    weather: str
    light: str
    walk_under_cover: bool | None = None
    wind: int | None = None
    sea_state: int | None = None
    sails_set: str = ""
    full_throttle: str = ""
    load: str = ""
    kind: str = Viewing.Kind.VISIT


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
    """The same for several lists. Two queries."""
    return _findings(candidate__list_id__in=list_ids)


def candidate_findings(candidate_id: uuid.UUID) -> list[LiveFinding]:
    """The same for one boat. Two queries."""
    return _findings(candidate_id=candidate_id)


def _findings(**visits: Any) -> list[LiveFinding]:
    """A submission has many findings: they are read as plain rows, what they share is read once.

    visits: which ones, as filters of viewings.
    """
    of_visits = {f"viewing__{name}": value for name, value in visits.items()}
    submissions = {
        submission.id: _shared(submission)
        for submission in Submission.objects.filter(LIVE, **of_visits).select_related(
            "viewing", "author"
        )
    }
    findings = (
        Finding.objects.filter(**{f"submission__{name}": of_visits[name] for name in of_visits})
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
        "conditions": ConditionsMet(**viewing.circumstances),
    }


def is_guess(look: LiveFinding, checkpoint: CheckpointEntry) -> bool:
    """Whether the conditions make the look no better than a guess, however sure the person was.

    A professional brings what the look needs.
    """
    return not look.professional and bool(
        hampered(checkpoint, hindrances_in(vars(look.conditions)))
    )


def settled_checks(
    findings: Iterable[LiveFinding], catalogue: Catalogue
) -> dict[uuid.UUID, frozenset[str]]:
    """By candidate, the checks that somebody looked at when nothing made the look a guess."""
    settled: defaultdict[uuid.UUID, set[str]] = defaultdict(set)
    for look in findings:
        checkpoint = catalogue.checkpoints.get(look.checkpoint)
        if look.level is not None and checkpoint and not is_guess(look, checkpoint):
            settled[look.candidate_id].add(look.checkpoint)
    return {candidate: frozenset(codes) for candidate, codes in settled.items()}


def settled_on(candidate: Candidate, apart_from: uuid.UUID | None = None) -> frozenset[str]:
    """The same for one boat. Two queries, and the catalogue's.

    apart_from: a viewing of her that does not count: people look for themselves on it.
    """
    catalogue = catalogue_snapshot(candidate.list.group_id).catalogue
    before = [one for one in candidate_findings(candidate.pk) if one.viewing_id != apart_from]
    return settled_checks(before, catalogue).get(candidate.pk, frozenset())


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
