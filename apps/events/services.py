"""Records events."""

import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.db import transaction
from django.db.models import F

from apps.common.prepared import Prepared
from apps.events.models import Event, EventSequence
from apps.events.subscriptions import INTERNAL, handlers_of, handlers_of_written
from apps.events.webhooks.outbox import event_send

# Events that wait for the end of a block, oldest first; None outside a block.
_waiting: ContextVar[list[Event] | None] = ContextVar("events_waiting", default=None)


@contextmanager
def events_at_the_end() -> Iterator[None]:
    """Write the events of this block when it ends, group by group.

    For changes of many records at once: a group's sequence is locked until commit. Locking it early
    could deadlock with another transaction that has locked rows and waits for the sequence. An
    inner block ends with the outer one.
    """
    if _waiting.get() is not None:
        yield
        return
    waiting: list[Event] = []
    token = _waiting.set(waiting)
    try:
        yield
    finally:
        _waiting.reset(token)
    for event in sorted(waiting, key=lambda event: event.group):
        _write(event)


def event_record(
    *,
    group_id: uuid.UUID,
    kind: str,
    thing: str,
    thing_id: uuid.UUID,
    thing_version: int = 1,
    by_id: uuid.UUID | None = None,
    deleted: bool = False,
    only_for: uuid.UUID | None = None,
    facts: Mapping[str, Any] | None = None,
) -> Event:
    """Write one event with the group's next number; call it last in the writing transaction.

    Its subscribers are called first (`subscriptions`), and their events come before it. The lock on
    the group's sequence is held until commit, so numbers become visible in order and a reader of
    the feed never skips an uncommitted one. Messages to webhooks are written here too.
    """
    if kind in INTERNAL:
        raise ValueError(f"{kind} is never written: use event_announce")
    event = Event(
        group=group_id,
        kind=kind,
        thing=thing,
        thing_id=thing_id,
        thing_version=thing_version,
        by_id=by_id,
        deleted=deleted,
        only_for=only_for,
        facts=dict(facts or {}),
    )
    with events_at_the_end():
        _call_subscribers(event)
        waiting = _waiting.get()
        assert waiting is not None  # inside a block
        waiting.append(event)
    return event


def event_announce(
    *,
    kind: str,
    thing_id: uuid.UUID,
    group_id: uuid.UUID | None = None,
    thing: str = "",
    by_id: uuid.UUID | None = None,
    facts: Mapping[str, Any] | None = None,
) -> None:
    """Call the subscribers of an internal event, which is not written."""
    if kind not in INTERNAL:
        raise ValueError(f"{kind} is written: use event_record")
    event = Event(kind=kind, thing=thing, thing_id=thing_id, by_id=by_id, facts=dict(facts or {}))
    if group_id is not None:
        event.group = group_id
    with events_at_the_end():
        _call_subscribers(event)


def _call_subscribers(event: Event) -> None:
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("an event belongs to the transaction that made the change")
    for handler in handlers_of(event.kind):
        handler(event)


def _write(event: Event) -> None:
    sequence = EventSequence.objects.filter(group=event.group)
    if not sequence.update(last=F("last") + 1):  # the group's first event
        EventSequence.objects.get_or_create(group=event.group)
        sequence.update(last=F("last") + 1)
    ((event.number,),) = _LAST(event.group)
    event.save(force_insert=True)
    event_send(event)
    for handler in handlers_of_written():
        handler(event)


_LAST = Prepared(
    lambda group: EventSequence.objects.filter(group=group).values_list("last"), uuid.UUID
)
