"""Reads, scoped to the reader."""

import uuid
from collections.abc import Iterable

from django.db.models import Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.rules import visible_groups
from apps.viewings.models import LIVE, Clearance, Finding, FollowUp, Submission, Viewing


def viewings_visible(person: Person) -> QuerySet[Viewing]:
    return (
        Viewing.objects.filter(candidate__list__group__in=visible_groups(person))
        .select_related("candidate__list", "added_by")
        .prefetch_related("people")
    )


def viewings_of(person: Person, candidate_id: uuid.UUID) -> QuerySet[Viewing]:
    candidate_for(person, candidate_id)
    return viewings_visible(person).filter(candidate_id=candidate_id)


def viewing_for(person: Person, viewing_id: uuid.UUID) -> Viewing:
    return get_object_or_404(viewings_visible(person), pk=viewing_id)


def submissions_visible(person: Person) -> QuerySet[Submission]:
    """What was submitted in the reader's groups, and the reader's own drafts."""
    return (
        Submission.objects.filter(
            Q(state=Submission.State.SUBMITTED) | Q(author=person),
            viewing__candidate__list__group__in=visible_groups(person),
        )
        .select_related("viewing__candidate__list", "author", "superseded_by")
        .prefetch_related(
            Prefetch(
                "findings", Finding.objects.select_related("checkpoint_version").order_by("pk")
            )
        )
    )


def submissions_of_viewing(person: Person, viewing_id: uuid.UUID) -> QuerySet[Submission]:
    viewing_for(person, viewing_id)
    return submissions_visible(person).filter(viewing_id=viewing_id)


def submissions_of_candidate(
    person: Person, candidate_id: uuid.UUID, *, live_only: bool = False
) -> QuerySet[Submission]:
    candidate_for(person, candidate_id)
    found = submissions_visible(person).filter(viewing__candidate_id=candidate_id)
    return found.filter(LIVE) if live_only else found


def submission_for(person: Person, submission_id: uuid.UUID) -> Submission:
    return get_object_or_404(submissions_visible(person), pk=submission_id)


def candidates_called_by(person: Person, candidates: Iterable[uuid.UUID]) -> set[uuid.UUID]:
    """On which of these candidates the person gave a call: there others' calls are shown."""
    return set(
        Submission.objects.filter(
            viewing__candidate_id__in=set(candidates),
            author=person,
            state=Submission.State.SUBMITTED,
        )
        .exclude(call="")
        .values_list("viewing__candidate_id", flat=True)
    )


def follow_ups_visible(person: Person) -> QuerySet[FollowUp]:
    return FollowUp.objects.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "assignee", "added_by")


def follow_ups_of(person: Person, candidate_id: uuid.UUID) -> QuerySet[FollowUp]:
    candidate_for(person, candidate_id)
    return follow_ups_visible(person).filter(candidate_id=candidate_id)


def follow_up_for(person: Person, follow_up_id: uuid.UUID) -> FollowUp:
    return get_object_or_404(follow_ups_visible(person), pk=follow_up_id)


def clearances_visible(person: Person) -> QuerySet[Clearance]:
    return Clearance.objects.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "added_by")


def clearances_of(person: Person, candidate_id: uuid.UUID) -> QuerySet[Clearance]:
    candidate_for(person, candidate_id)
    return clearances_visible(person).filter(candidate_id=candidate_id)


def clearance_for(person: Person, clearance_id: uuid.UUID) -> Clearance:
    return get_object_or_404(clearances_visible(person), pk=clearance_id)
