"""Reads of a boat's handover, with the reader's scope."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.groups.rules import visible_groups
from apps.ownership.handover.usual import UsualItem, usual_items
from apps.ownership.models import Handover, HandoverItem


@dataclass(frozen=True)
class HandoverRead:
    """usual: items of the usual list that were not added yet."""

    candidate: Candidate
    handover: Handover | None
    items: Sequence[HandoverItem]
    usual: Sequence[UsualItem]

    @property
    def missing(self) -> Sequence[HandoverItem]:
        """What was promised and not found, or not all of it."""
        return [one for one in self.items if one.missing]


def handover_of(person: Person, candidate_id: uuid.UUID) -> HandoverRead:
    """Raises `Http404` for a boat not visible. Three queries."""
    candidate = candidate_for(person, candidate_id)
    items = list(
        HandoverItem.objects.filter(candidate=candidate).select_related("added_by", "checked_by")
    )
    there = {item.what for item in items}
    return HandoverRead(
        candidate=candidate,
        handover=handover_if_any(candidate),
        items=items,
        usual=[one for one in usual_items().values() if one.what not in there],
    )


def handover_if_any(candidate: Candidate) -> Handover | None:
    return Handover.objects.select_related("changed_by").filter(candidate=candidate).first()


def handover_recorded(candidate: Candidate) -> Handover:
    """Raises `Http404` until somebody recorded it."""
    return get_object_or_404(Handover.objects.select_related("changed_by"), candidate=candidate)


def item_for(person: Person, item_id: uuid.UUID) -> HandoverItem:
    items = HandoverItem.objects.filter(candidate__list__group__in=visible_groups(person))
    return get_object_or_404(
        items.select_related("candidate__list", "added_by", "checked_by"), pk=item_id
    )
