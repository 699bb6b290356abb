"""Reads with the reader's scope."""

import uuid

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.groups.rules import visible_groups
from apps.sellers.models import SellerAnswer
from apps.sellers.questions import SellerQuestions, questions_to


def answers_visible(person: Person) -> QuerySet[SellerAnswer]:
    return SellerAnswer.objects.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "added_by")


def answers_of(
    person: Person, candidate_id: uuid.UUID, *, live_only: bool = False
) -> QuerySet[SellerAnswer]:
    candidate_for(person, candidate_id)
    answers = answers_visible(person).filter(candidate_id=candidate_id)
    return answers.filter(withdrawn_at=None) if live_only else answers


def answer_for(person: Person, answer_id: uuid.UUID) -> SellerAnswer:
    return get_object_or_404(answers_visible(person), pk=answer_id)


def questions_for(person: Person, candidate_id: uuid.UUID) -> tuple[Candidate, SellerQuestions]:
    """The boat, the questions to her seller, and what was answered so far. Constant queries."""
    candidate = candidate_for(person, candidate_id)
    answers = answers_visible(person).filter(candidate=candidate, withdrawn_at=None)
    return candidate, questions_to(candidate, answers.order_by("said_on", "pk"))
