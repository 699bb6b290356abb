"""Reads of the group that asks: its requests and their results."""

import uuid

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.rules import membership_of, visible_groups
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step
from apps.viewings.models import Submission, Viewing


def requests_visible(person: Person) -> QuerySet[SecondOpinionRequest]:
    """The requests of the reader's groups, with their assignments and submissions."""
    sent = Submission.objects.filter(state=Submission.State.SUBMITTED).order_by("pk")
    viewings = Viewing.objects.prefetch_related(Prefetch("submissions", sent, to_attr="sent"))
    assignments = Assignment.objects.select_related("person").prefetch_related(
        Prefetch("viewing", viewings)
    )
    return (
        SecondOpinionRequest.objects.filter(candidate__list__group__in=visible_groups(person))
        .select_related("candidate__list", "asked_by", "answered_by", "yard_day")
        .prefetch_related(Prefetch("assignments", assignments.order_by("pk")))
    )


def requests_of_candidate(
    person: Person, candidate_id: uuid.UUID, *, state: str | None = None
) -> QuerySet[SecondOpinionRequest]:
    candidate_for(person, candidate_id)
    return _in_state(requests_visible(person).filter(candidate=candidate_id), state)


def requests_of_group(
    person: Person, group_id: uuid.UUID, *, state: str | None = None
) -> QuerySet[SecondOpinionRequest]:
    membership_of(person, group_id)
    return _in_state(requests_visible(person).filter(candidate__list__group=group_id), state)


def _in_state(
    requests: QuerySet[SecondOpinionRequest], state: str | None
) -> QuerySet[SecondOpinionRequest]:
    return requests.filter(state=state) if state else requests


def request_for(person: Person, request_id: uuid.UUID) -> SecondOpinionRequest:
    return get_object_or_404(requests_visible(person), pk=request_id)


def steps_of(person: Person, request_id: uuid.UUID) -> QuerySet[Step]:
    request = request_for(person, request_id)
    return Step.objects.filter(request=request).select_related("by", "whom")


def group_assignment_for(person: Person, request_id: uuid.UUID) -> Assignment:
    """The live assignment of a request of the reader's group, or 404."""
    assignments = Assignment.objects.filter(
        request=request_id,
        request__candidate__list__group__in=visible_groups(person),
        ended_at=None,
    )
    related = ("person", "viewing__candidate__list", "request__candidate__list")
    return get_object_or_404(assignments.select_related(*related, "request__yard_day"))
