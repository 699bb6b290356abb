"""Batches of submissions from somebody who was without signal.

Each submission is independent: it is stored in its own transaction, and its client-made id
distinguishes a repeat from a new one. So it does not matter which part of a batch was stored
before.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import Conflict, Invalid, pointing_into
from apps.viewings.models import Submission, Viewing
from apps.viewings.selectors import viewings_visible
from apps.viewings.services import viewing_add, viewing_change
from apps.viewings.submitting import SubmissionContent, submission_create

# A person makes one visit to a boat at a time: if two phones recorded one, it is the same visit.
SAME_VISIT = timedelta(hours=3)


@dataclass(frozen=True)
class VisitDraft:
    """A visit that was recorded without signal."""

    id: uuid.UUID
    candidate: uuid.UUID
    starts_at: datetime
    kind: str = Viewing.Kind.VISIT
    conditions: Mapping[str, Any] = field(default_factory=dict)
    people: Sequence[uuid.UUID] = ()
    note: str = ""


@dataclass(frozen=True)
class BatchItem:
    """One submission, from a visit that is stored (`viewing`) or comes with it (`visit`)."""

    id: uuid.UUID
    content: SubmissionContent
    viewing: uuid.UUID | None = None
    visit: VisitDraft | None = None


@dataclass(frozen=True)
class SubmissionBatch:
    """What all items share; `stored` are those of their ids that are in use."""

    group_id: uuid.UUID
    by: Person
    clock_ahead: timedelta
    stored: Mapping[uuid.UUID, Submission]


def batch_begin(
    *, group_id: uuid.UUID, by: Person, ids: Iterable[uuid.UUID], clock_ahead: timedelta
) -> SubmissionBatch:
    """The batch, with the ids stored already. One query. Each item checks who may submit."""
    stored = Submission.objects.filter(pk__in=ids).select_related("viewing__candidate__list")
    return SubmissionBatch(
        group_id, by, clock_ahead, {submission.pk: submission for submission in stored}
    )


def submission_take(*, batch: SubmissionBatch, item: BatchItem) -> tuple[Submission, bool]:
    """Store one submission of a batch. Returns it, and whether it is new.

    Raises what `submission_create` raises, and `Invalid` for a visit that is not the group's.
    """
    if (stored := batch.stored.get(item.id)) is not None:
        return _repeated(stored, batch, item), False
    with transaction.atomic():
        return submission_create(
            viewing=_viewing_of(batch, item),
            by=batch.by,
            content=item.content,
            id=item.id,
            clock_ahead=batch.clock_ahead,
        )


def _repeated(stored: Submission, batch: SubmissionBatch, item: BatchItem) -> Submission:
    viewing = stored.viewing
    same = (
        stored.author_id == batch.by.pk
        and stored.made_from == item.content.digest
        and viewing.candidate.list.group_id == batch.group_id
        # A visit in the batch may have been replaced by a stored one to the same boat.
        and item.viewing in (None, viewing.pk)
        and (item.visit is None or item.visit.candidate == viewing.candidate_id)
    )
    if not same:
        raise Conflict("id_taken", "This id is in use already, for something else.")
    return stored


def _viewing_of(batch: SubmissionBatch, item: BatchItem) -> Viewing:
    if item.visit is not None:
        with pointing_into("/new_viewing"):
            return _visit_taken(batch, item.visit)
    viewings = viewings_visible(batch.by).filter(candidate__list__group=batch.group_id)
    viewing = viewings.filter(pk=item.viewing).first() if item.viewing else None
    if viewing is None:
        raise Invalid.at("/viewing", "unknown", "There is no such visit in this group.")
    return viewing


def _visit_taken(batch: SubmissionBatch, visit: VisitDraft) -> Viewing:
    """The matching stored visit, with its unknown conditions filled in, or a new one."""
    boats = Candidate.objects.select_related("list").filter(list__group=batch.group_id)
    if (candidate := boats.filter(pk=visit.candidate).first()) is None:
        raise Invalid.at("/candidate", "unknown", "There is no such boat in this group.")
    if (viewing := _same_visit(candidate, batch.by, visit)) is not None:
        return _filled_in(viewing, batch.by, visit)
    try:
        return viewing_add(
            candidate=candidate,
            by=batch.by,
            starts_at=visit.starts_at,
            kind=visit.kind,
            state=Viewing.State.MADE,
            conditions=visit.conditions,
            people=visit.people,
            note=visit.note,
            id=visit.id,
        )
    except Conflict:
        # The other phone sent the same visit at the same time, or the id is somebody else's.
        viewing = viewings_visible(batch.by).filter(pk=visit.id, candidate=candidate).first()
        if viewing is None:
            raise
        return viewing


def _same_visit(candidate: Candidate, by: Person, visit: VisitDraft) -> Viewing | None:
    """A visit with the same id, or of the same person to the same boat at about that time."""
    viewings = viewings_visible(by).filter(candidate=candidate, kind=visit.kind)
    if (same := viewings.filter(pk=visit.id).first()) is not None:
        return same
    try:
        around = (visit.starts_at - SAME_VISIT, visit.starts_at + SAME_VISIT)
    except OverflowError:  # by a clock in the year 1 or 9999
        return None
    own = viewings.filter(Q(added_by=by) | Q(people=by), starts_at__range=around)
    return own.exclude(state=Viewing.State.CALLED_OFF).order_by("pk").first()


def _filled_in(viewing: Viewing, by: Person, visit: VisitDraft) -> Viewing:
    unknown = {name for name, value in viewing.conditions.items() if value in (None, "")}
    learnt = {
        name: value
        for name, value in visit.conditions.items()
        if name in unknown and value not in (None, "")
    }
    if learnt:
        viewing_change(viewing=viewing, by=by, expected_version=viewing.version, conditions=learnt)
    return viewing
