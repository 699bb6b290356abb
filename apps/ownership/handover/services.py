"""Record the bill of sale, and what was found when the boat was handed over."""

import uuid
from collections.abc import Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.exchange_rates import currency_faults
from apps.boats.models import Candidate
from apps.common.errors import FieldFault, Stale, require_no_faults
from apps.common.services import record_create
from apps.events.services import events_at_the_end
from apps.groups.rules import Action, require
from apps.ownership.handover.usual import usual_items
from apps.ownership.models import Handover, HandoverItem
from apps.viewings.event_records import record_event


@transaction.atomic
def handover_set(
    *, candidate: Candidate, by: Person, expected_version: int | None = None, **facts: Any
) -> Handover:
    """Record the facts of the sale and of the day; all of them anew. Raises `Invalid`, `Stale`."""
    require(by, Action.ADD, candidate.list.group_id)
    if facts["price_currency"]:
        require_no_faults(
            currency_faults(candidate.list, facts["price_currency"], "/price/currency")
        )
    facts["changed_by"] = by
    handover = Handover.objects.filter(candidate=candidate).first()
    if handover is None:
        try:
            with transaction.atomic():
                handover = Handover.objects.create(candidate=candidate, **facts)
        except IntegrityError as error:  # somebody else did at the same time
            raise Stale from error
    elif expected_version is None:
        raise Stale
    else:
        for name, value in facts.items():
            setattr(handover, name, value)
        handover.save_changes(expected_version=expected_version, fields=list(facts))
    record_event("handover.changed", handover, candidate, by)
    return handover


@transaction.atomic
def item_add(
    *,
    candidate: Candidate,
    by: Person,
    kind: str,
    what: str,
    promised: int = 1,
    id: uuid.UUID | None = None,
) -> HandoverItem:
    """Something more that goes with her."""
    require(by, Action.ADD, candidate.list.group_id)
    item = HandoverItem(candidate=candidate, kind=kind, what=what, promised=promised, added_by=by)
    record_create(item, id)
    record_event("handover_item.added", item, candidate, by)
    return item


@transaction.atomic
def usual_add(*, candidate: Candidate, by: Person, codes: Sequence[str]) -> list[HandoverItem]:
    """Add items of the usual list; those that are there by the same words are not added again.

    Raises `Invalid` for a code that is not on it.
    """
    require(by, Action.ADD, candidate.list.group_id)
    known = usual_items()
    require_no_faults(
        [
            FieldFault(f"/codes/{place}", "unknown", f"The usual list has no item {code!r}.")
            for place, code in enumerate(codes)
            if code not in known
        ]
    )
    there = set(HandoverItem.objects.filter(candidate=candidate).values_list("what", flat=True))
    with events_at_the_end():
        return [
            item_add(candidate=candidate, by=by, kind=known[code].kind, what=known[code].what)
            for code in dict.fromkeys(codes)
            if known[code].what not in there
        ]


@transaction.atomic
def item_change(
    *, item: HandoverItem, by: Person, expected_version: int, **facts: Any
) -> HandoverItem:
    """Only the given fields change. Whoever says how many were found is who checked it, now."""
    require(by, Action.ADD, item.candidate.list.group_id)
    if "found" in facts:
        nobody = facts["found"] is None
        facts["checked_by"] = None if nobody else by
        facts["checked_at"] = None if nobody else timezone.now()
    for name, value in facts.items():
        setattr(item, name, value)
    item.save_changes(expected_version=expected_version, fields=list(facts))
    record_event("handover_item.changed", item, item.candidate, by, found=item.found)
    return item
