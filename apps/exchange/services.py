"""Being told of changes, and remembering answers."""

import hashlib
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

from django.db import IntegrityError, transaction
from django.db.models import F, Model

from apps.exchange.errors import Conflict, Invalid
from apps.exchange.models import Event, GroupClock, RememberedAnswer
from apps.exchange.webhooks.outbox import event_send

Record = TypeVar("Record", bound=Model)


def record_create(thing: Record, id: uuid.UUID | None = None) -> Record:
    """Insert the record under the id its maker brought, if any. `Conflict` if it is taken."""
    if id is not None:
        thing.pk = id
    try:
        with transaction.atomic():
            thing.save(force_insert=True)
    except IntegrityError as error:
        if type(thing)._base_manager.filter(pk=thing.pk).exists():
            raise Conflict("id_taken", "This id is in use already.") from error
        raise
    return thing


# Events that wait for the end of a block, oldest first; None outside of any.
_waiting: ContextVar[list[Event] | None] = ContextVar("events_waiting", default=None)


@contextmanager
def events_at_the_end() -> Iterator[None]:
    """Events of this block are written when it ends, group by group.

    For what changes many things at once: a clock is locked until commit, so whoever takes it early
    waits for rows that another, who waits for the clock, has locked.
    """
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

    The lock on the group's clock is held until commit, so that numbers become visible in order
    and a reader of the feed never skips one that was still being committed. Messages to webhooks
    are written here too.
    """
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("an event belongs to the transaction that made the change")
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
    waiting = _waiting.get()
    if waiting is None:
        _write(event)
    else:
        waiting.append(event)
    return event


def _write(event: Event) -> None:
    GroupClock.objects.get_or_create(group=event.group)
    GroupClock.objects.filter(group=event.group).update(last=F("last") + 1)
    event.number = GroupClock.objects.values_list("last", flat=True).get(group=event.group)
    event.save(force_insert=True)
    event_send(event)


def answer_recall(
    *, principal: uuid.UUID, key: str, method: str, path: str, body: bytes
) -> RememberedAnswer:
    """The stored answer for this key, or a fresh row (status None) that the caller must fill.

    The row is inserted in the transaction of the effect: a twin that runs at the same time waits
    for the first to commit and then gets its answer. Raises `Invalid` if the key was used for
    another request, `Conflict` if the first one is still running.
    """
    if not 1 <= len(key) <= 255:
        raise Invalid.at("", "idempotency_key", "An Idempotency-Key has 1 to 255 characters.")
    digest = hashlib.sha256(body).hexdigest()
    try:
        with transaction.atomic():
            return RememberedAnswer.objects.create(
                principal=principal, key=key, method=method, path=path, body_digest=digest
            )
    except IntegrityError:
        pass
    answer = RememberedAnswer.objects.get(principal=principal, key=key)
    if (answer.method, answer.path, answer.body_digest) != (method, path, digest):
        raise Invalid.at(
            "",
            "idempotency_key_reused",
            "This Idempotency-Key was used before for another request. Send a new key.",
        )
    if answer.status is None:
        raise Conflict("still_running", "The first request with this key is still running.")
    return answer
