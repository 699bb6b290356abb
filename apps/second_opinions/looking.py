"""Services of an assignee on the boat, built on those of viewings.

Each function locks the live assignment, so nothing succeeds after the group has ended the access.
"""

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from apps.accounts.models import Person
from apps.common.errors import Conflict
from apps.second_opinions.access import assignment_opened, authority_of
from apps.second_opinions.models import Assignment, Step
from apps.second_opinions.steps import step_note
from apps.viewings import submitting
from apps.viewings.media import services as media
from apps.viewings.media.models import Photo
from apps.viewings.models import Submission, Viewing
from apps.viewings.services import viewing_add, viewing_change
from apps.viewings.submitting import SubmissionContent


@transaction.atomic
def visit_set(
    *,
    assignment_id: uuid.UUID,
    by: Person,
    expected_version: int | None,
    starts_at: datetime,
    conditions: Mapping[str, Any],
) -> Viewing:
    """Plan the assignment's one visit, or change its time or conditions."""
    assignment = assignment_opened(by, assignment_id, lock=True)
    given = authority_of(assignment)
    if assignment.viewing is not None:
        return viewing_change(
            viewing=assignment.viewing,
            by=by,
            expected_version=expected_version or 0,
            starts_at=starts_at,
            conditions=conditions,
            given=given,
        )
    assignment.viewing = viewing_add(
        candidate=assignment.request.candidate,
        by=by,
        starts_at=starts_at,
        conditions=conditions,
        people=[by.pk],
        given=given,
    )
    assignment.save_changes(fields=["viewing"])
    step_note(assignment.request, Step.Kind.VISIT, by=by)
    return assignment.viewing


@transaction.atomic
def submission_create(
    *, assignment_id: uuid.UUID, by: Person, content: SubmissionContent, id: uuid.UUID | None = None
) -> tuple[Submission, bool]:
    """Post findings from the assignment's visit. Raises `Conflict` without a visit."""
    assignment = assignment_opened(by, assignment_id, lock=True)
    if assignment.viewing is None:
        raise Conflict("no_visit", "Say first when you look at her, and how she lies.")
    submission, is_new = submitting.submission_create(
        viewing=assignment.viewing, by=by, content=content, id=id, given=authority_of(assignment)
    )
    _note_submitted(assignment, submission, by, is_new=is_new)
    return submission, is_new


@transaction.atomic
def submission_replace(
    *,
    assignment_id: uuid.UUID,
    submission: Submission,
    by: Person,
    content: SubmissionContent,
    expected_version: int,
) -> None:
    assignment = assignment_opened(by, assignment_id, lock=True)
    submitting.submission_replace(
        submission=submission,
        by=by,
        content=content,
        expected_version=expected_version,
        given=authority_of(assignment),
    )
    _note_submitted(assignment, submission, by, is_new=True)


def _note_submitted(
    assignment: Assignment, submission: Submission, by: Person, *, is_new: bool
) -> None:
    if is_new and submission.state == Submission.State.SUBMITTED:
        step_note(assignment.request, Step.Kind.SUBMITTED, by=by)


@transaction.atomic
def submission_discard(
    *, assignment_id: uuid.UUID, submission: Submission, by: Person, expected_version: int
) -> None:
    assignment = assignment_opened(by, assignment_id, lock=True)
    submitting.submission_discard(
        submission=submission,
        by=by,
        expected_version=expected_version,
        given=authority_of(assignment),
    )


@transaction.atomic
def photo_add(
    *,
    assignment_id: uuid.UUID,
    submission: Submission,
    by: Person,
    file: "UploadedFile[bytes]",
    **details: Any,
) -> tuple[Photo, bool]:
    assignment = assignment_opened(by, assignment_id, lock=True)
    return media.photo_add(
        viewing=submission.viewing,
        submission=submission,
        by=by,
        file=file,
        given=authority_of(assignment),
        **details,
    )


@transaction.atomic
def photo_remove(
    *, assignment_id: uuid.UUID, photo: Photo, by: Person, expected_version: int
) -> None:
    assignment = assignment_opened(by, assignment_id, lock=True)
    media.media_remove(
        media=photo, by=by, expected_version=expected_version, given=authority_of(assignment)
    )
