"""Reads, scoped to the reader."""

import uuid

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.rules import visible_groups
from apps.purchase.models import Bill, Quote


def quotes_visible(person: Person) -> QuerySet[Quote]:
    return Quote.objects.filter(candidate__list__group__in=visible_groups(person)).select_related(
        "candidate__list", "added_by"
    )


def quotes_of(
    person: Person, candidate_id: uuid.UUID, *, live_only: bool = False
) -> QuerySet[Quote]:
    candidate_for(person, candidate_id)
    quotes = quotes_visible(person).filter(candidate_id=candidate_id)
    return quotes.filter(withdrawn_at=None) if live_only else quotes


def quote_for(person: Person, quote_id: uuid.UUID) -> Quote:
    return get_object_or_404(quotes_visible(person), pk=quote_id)


def bills_visible(person: Person) -> QuerySet[Bill]:
    return Bill.objects.filter(candidate__list__group__in=visible_groups(person)).select_related(
        "candidate__list", "added_by"
    )


def bills_of(person: Person, candidate_id: uuid.UUID, *, live_only: bool = False) -> QuerySet[Bill]:
    candidate_for(person, candidate_id)
    bills = bills_visible(person).filter(candidate_id=candidate_id)
    return bills.filter(withdrawn_at=None) if live_only else bills


def bill_for(person: Person, bill_id: uuid.UUID) -> Bill:
    return get_object_or_404(bills_visible(person), pk=bill_id)
