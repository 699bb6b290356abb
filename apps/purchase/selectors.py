"""Reads, scoped to the reader."""

import uuid
from typing import TypeVar

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.rules import visible_groups
from apps.purchase.models import Bill, Quote

QuoteOrBill = TypeVar("QuoteOrBill", Quote, Bill)


def visible(model: type[QuoteOrBill], person: Person) -> QuerySet[QuoteOrBill]:
    return model._default_manager.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "added_by")


def of_candidate(
    model: type[QuoteOrBill], person: Person, candidate_id: uuid.UUID, *, live_only: bool = False
) -> QuerySet[QuoteOrBill]:
    candidate_for(person, candidate_id)
    found = visible(model, person).filter(candidate_id=candidate_id)
    return found.filter(withdrawn_at=None) if live_only else found


def one_for(model: type[QuoteOrBill], person: Person, pk: uuid.UUID) -> QuoteOrBill:
    return get_object_or_404(visible(model, person), pk=pk)
