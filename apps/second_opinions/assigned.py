"""What whoever took a request on reads: their own takes, and by a live one the boat and their own
findings on her."""

import uuid
from collections.abc import Collection

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.second_opinions.access import live_assignments
from apps.second_opinions.models import Assignment
from apps.viewings.media.models import Photo
from apps.viewings.models import Finding, Submission


def assignments_of(person: Person) -> QuerySet[Assignment]:
    """All the person's own takes."""
    return Assignment.objects.filter(person=person).select_related(
        "request__candidate", "request__asked_by"
    )


def assignment_for(person: Person, assignment_id: uuid.UUID) -> Assignment:
    return get_object_or_404(assignments_of(person), pk=assignment_id)


def live_ids(person: Person) -> Collection[uuid.UUID]:
    """Which of their takes open a boat now. One query; nobody has many."""
    return set(live_assignments(person).values_list("pk", flat=True))


def submissions_for(assignment: Assignment) -> QuerySet[Submission]:
    """The taker's own from the take's visit, drafts included."""
    findings = Finding.objects.select_related("checkpoint_version").order_by("pk")
    return (
        Submission.objects.filter(
            viewing=assignment.viewing_id, viewing__isnull=False, author=assignment.person_id
        )
        .select_related("viewing__candidate__list")
        .prefetch_related(
            Prefetch("findings", findings),
            Prefetch("photos", Photo.objects.order_by("pk")),
            "sounds",
        )
    )


def submission_for(assignment: Assignment, submission_id: uuid.UUID) -> Submission:
    return get_object_or_404(submissions_for(assignment), pk=submission_id)


def photos_for(assignment: Assignment) -> QuerySet[Photo]:
    """The taker's own pictures from the take's visit."""
    return Photo.objects.filter(
        viewing=assignment.viewing_id, viewing__isnull=False, added_by=assignment.person_id
    ).select_related("viewing__candidate__list", "submission")


def photo_for(assignment: Assignment, photo_id: uuid.UUID) -> Photo:
    return get_object_or_404(photos_for(assignment), pk=photo_id)
