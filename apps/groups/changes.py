"""The changes in all of a person's groups, including joining and leaving."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from apps.accounts.access import Access
from apps.accounts.models import Person
from apps.events.feed import events_after, last_numbers
from apps.events.models import Event
from apps.groups.models import Membership
from apps.groups.rules import shut_to

# The scope needed to read a kind of record. A limited token does not see changes of kinds that it
# cannot read or that are missing here.
SCOPE_OF_THING = {
    "group": "lists:read",
    "membership": "lists:read",
    "admission_request": "lists:read",
    "program": "lists:read",
    "list": "lists:read",
    "candidate": "lists:read",
    "yard": "lists:read",
    "trip": "results:read",
    "viewing": "lists:read",
    "follow_up": "lists:read",
    "quote": "lists:read",
    "bill": "lists:read",
    "offer": "lists:read",
    "survey": "lists:read",
    "survey_report": "findings:read",
    "survey_vote": "opinions:read",
    "survey_ballot": "opinions:read",
    "ledger": "expenses:read",
    "entry": "expenses:read",
    "clause": "ownership:read",
    "handover": "ownership:read",
    "handover_item": "ownership:read",
    "season": "ownership:read",
    "work": "ownership:read",
    "submission": "findings:read",
    "gate_document": "lists:read",
    "seller_photo": "lists:read",
    "seller_answer": "lists:read",
    "photo": "findings:read",
    "sound": "findings:read",
    "clearance": "findings:read",
    "want": "opinions:read",
    "judgement": "opinions:read",
    "valuation": "opinions:read",
    "ballot": "opinions:read",
    "list_appraisal": "results:read",
    "group_pool": "results:read",
    "catalogue_change": "lists:read",
    "second_opinion_request": "second_opinions:read",
    "yard_day": "second_opinions:read",
    "group_outcomes": "results:read",
    "webhook": "group:manage",
    "export": "archives:manage",
}


@dataclass(frozen=True)
class ChangesPage:
    """One page; `positions` are where the next one starts, `more` whether changes wait."""

    events: list[Event]
    positions: dict[uuid.UUID, int]
    more: bool


def changes_for(person: Person, since: Mapping[uuid.UUID, int], *, limit: int) -> ChangesPage:
    """The next changes that the person may see with the request's token. Four queries.

    A group without a position shows as access gained, and its later changes follow, so that a
    client that reads the group after this answer misses none. A group with a position that the
    person has left shows as access lost. Raises `Gone` for an old position.
    """
    joined, left = memberships_of(person)
    lost = [_access_lost(g, since[g], left.get(g)) for g in sorted(since) if g not in joined]
    unknown = sorted(group for group in joined if group not in since)
    numbers = last_numbers(unknown) if unknown else {}
    gained = [_access_gained(group, numbers[group], joined[group]) for group in unknown]
    access_changes = [*lost, *gained][:limit]

    positions = {group: number for group, number in since.items() if group in joined}
    if len(access_changes) == limit:
        over = {event.group for event in [*lost, *gained][limit:]}
        kept = positions | {event.group: event.number for event in lost if event.group in over}
        added = {event.group: event.number for event in gained if event.group not in over}
        return ChangesPage(access_changes, kept | added, more=True)
    batch = events_after(
        positions,
        reader=person.pk,
        limit=limit - len(access_changes),
        things=things_opened(person.via),
    )
    added = {event.group: event.number for event in gained}
    return ChangesPage([*access_changes, *batch.events], batch.positions | added, batch.more)


def things_opened(access: Access | None) -> list[str] | None:
    """The kinds of record that this access may read; None for all."""
    if access is None or access.scopes is None:
        return None
    return [thing for thing, scope in SCOPE_OF_THING.items() if access.allows(scope)]


def memberships_of(person: Person) -> tuple[dict[uuid.UUID, datetime], dict[uuid.UUID, datetime]]:
    """The person's memberships with their dates, including ended ones.

    For a program that a group disabled, the membership counts as ended.
    """
    joined, left = {}, {}
    shut = set(shut_to(person))
    rows = Membership.objects.filter(person=person).order_by("created_at")
    for group, since, until in rows.values_list("group", "created_at", "ended_at"):
        if until is None and group in shut:
            left[group] = timezone.now()
        elif until is None:
            joined[group] = since
        else:
            left[group] = until
    return joined, left


def _access_gained(group: uuid.UUID, number: int, at: datetime) -> Event:
    return _access_event("access.gained", group, number, at)


def _access_lost(group: uuid.UUID, number: int, at: datetime | None) -> Event:
    event = _access_event("access.lost", group, number, at or timezone.now())
    event.deleted = True
    return event


def _access_event(kind: str, group: uuid.UUID, number: int, at: datetime) -> Event:
    """An event for this reader only, derived from the memberships and not stored."""
    return Event(
        kind=kind, group=group, number=number, thing="group", thing_id=group, created_at=at
    )
