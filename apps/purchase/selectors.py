"""Reads, scoped to the reader."""

import uuid
from typing import TypeVar

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.rules import visible_groups
from apps.purchase.models import Bill, Offer, Quote

OnBoat = TypeVar("OnBoat", Quote, Bill, Offer)


def visible(model: type[OnBoat], person: Person) -> QuerySet[OnBoat]:
    return model._default_manager.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "added_by")


def of_candidate(
    model: type[OnBoat], person: Person, candidate_id: uuid.UUID, *, live_only: bool = False
) -> QuerySet[OnBoat]:
    """live_only: of quotes and bills, without withdrawn ones."""
    candidate_for(person, candidate_id)
    live = Q(withdrawn_at=None) if live_only else Q()
    return visible(model, person).filter(live, candidate_id=candidate_id)


def offers_on(person: Person, list_id: uuid.UUID) -> dict[str, list[Offer]]:
    """Those for a list's boats by the id of the boat, the newest first. One query."""
    found: dict[str, list[Offer]] = {}
    for offer in visible(Offer, person).filter(candidate__list=list_id).order_by("-pk"):
        found.setdefault(str(offer.candidate_id), []).append(offer)
    return found


def one_for(model: type[OnBoat], person: Person, pk: uuid.UUID) -> OnBoat:
    return get_object_or_404(visible(model, person), pk=pk)
