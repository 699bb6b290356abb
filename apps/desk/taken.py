"""What whoever took a request on reads: their own takes, and by a live one the boat and their own
findings on her."""

import uuid
from collections.abc import Collection

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.desk.access import live_takes
from apps.desk.models import Take
from apps.viewings.media.models import Photo
from apps.viewings.models import Finding, Submission


def takes_of(person: Person) -> QuerySet[Take]:
    """All the person's own takes."""
    return Take.objects.filter(person=person).select_related(
        "request__candidate", "request__asked_by"
    )


def take_for(person: Person, take_id: uuid.UUID) -> Take:
    return get_object_or_404(takes_of(person), pk=take_id)


def live_ids(person: Person) -> Collection[uuid.UUID]:
    """Which of their takes open a boat now. One query; nobody has many."""
    return set(live_takes(person).values_list("pk", flat=True))


def submissions_for(take: Take) -> QuerySet[Submission]:
    """The taker's own from the take's visit, drafts included."""
    findings = Finding.objects.select_related("checkpoint_version").order_by("pk")
    return (
        Submission.objects.filter(
            viewing=take.viewing_id, viewing__isnull=False, author=take.person_id
        )
        .select_related("viewing__candidate__list")
        .prefetch_related(
            Prefetch("findings", findings),
            Prefetch("photos", Photo.objects.order_by("pk")),
            "sounds",
        )
    )


def submission_for(take: Take, submission_id: uuid.UUID) -> Submission:
    return get_object_or_404(submissions_for(take), pk=submission_id)


def photos_for(take: Take) -> QuerySet[Photo]:
    """The taker's own pictures from the take's visit."""
    return Photo.objects.filter(
        viewing=take.viewing_id, viewing__isnull=False, added_by=take.person_id
    ).select_related("viewing__candidate__list", "submission")


def photo_for(take: Take, photo_id: uuid.UUID) -> Photo:
    return get_object_or_404(photos_for(take), pk=photo_id)
