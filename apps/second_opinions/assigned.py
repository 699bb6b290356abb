"""Reads of an assignee: their own assignments, and their own findings and pictures."""

import uuid
from collections.abc import Collection

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.second_opinions.access import live_assignments
from apps.second_opinions.models import Assignment
from apps.viewings.media.models import Photo
from apps.viewings.models import Submission, Viewing
from apps.viewings.selectors import findings_shown


def assignments_of(person: Person) -> QuerySet[Assignment]:
    """All assignments of the person."""
    return Assignment.objects.filter(person=person).select_related(
        "request__candidate", "request__asked_by"
    )


def assignment_for(person: Person, assignment_id: uuid.UUID) -> Assignment:
    return get_object_or_404(assignments_of(person), pk=assignment_id)


def live_ids(person: Person) -> Collection[uuid.UUID]:
    """The ids of the person's live assignments. One query; nobody has many."""
    return set(live_assignments(person).values_list("pk", flat=True))


def visits_of(person: Person) -> QuerySet[Viewing]:
    """The visits to boats that the person took on and may see now, each with its assignment."""
    return Viewing.objects.filter(assignment__in=live_assignments(person)).select_related(
        "assignment__request", "candidate__list__group", "candidate__at_yard"
    )


def submissions_for(assignment: Assignment) -> QuerySet[Submission]:
    """The assignee's own submissions from the assignment's visit, including drafts."""
    return (
        Submission.objects.filter(
            viewing=assignment.viewing_id, viewing__isnull=False, author=assignment.person_id
        )
        .select_related("viewing__candidate__list")
        .prefetch_related(
            Prefetch("findings", findings_shown()),
            Prefetch("photos", Photo.objects.order_by("pk")),
            "sounds",
        )
    )


def submission_for(assignment: Assignment, submission_id: uuid.UUID) -> Submission:
    return get_object_or_404(submissions_for(assignment), pk=submission_id)


def photos_for(assignment: Assignment) -> QuerySet[Photo]:
    """The assignee's own pictures from the assignment's visit."""
    return Photo.objects.filter(
        viewing=assignment.viewing_id, viewing__isnull=False, added_by=assignment.person_id
    ).select_related("viewing__candidate__list", "submission")


def photo_for(assignment: Assignment, photo_id: uuid.UUID) -> Photo:
    return get_object_or_404(photos_for(assignment), pk=photo_id)
