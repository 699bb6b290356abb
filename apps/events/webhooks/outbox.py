"""Writes messages to webhooks in the transaction of their event."""

import json
import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone
from rest_framework.utils.encoders import JSONEncoder

from apps.common.prepared import Prepared
from apps.common.processes.broker import broker
from apps.events.models import Delivery, Event, Webhook
from apps.events.webhooks.kinds import KINDS


def event_send(event: Event) -> None:
    """Write one delivery for each webhook that gets this event.

    Call it while the group's sequence is locked, so that no webhook is deleted meanwhile. Events
    for one person only are not sent.
    """
    if event.kind not in KINDS or event.only_for is not None:
        return
    wanting = [id for id, kinds in _WEBHOOKS(event.group) if not kinds or event.kind in kinds]
    if not wanting:
        return
    body = message(event.kind, event.created_at, facts_of(event))
    now = timezone.now()
    Delivery.objects.bulk_create(
        Delivery(webhook_id=id, kind=event.kind, body=body, due_at=now) for id in wanting
    )
    for id in wanting:
        send_soon(id)


_WEBHOOKS = Prepared(
    lambda group: Webhook.objects.filter(group=group, enabled=True).values_list("id", "kinds"),
    uuid.UUID,
)


def facts_of(event: Event) -> dict[str, Any]:
    """The fields of the change feed; clients read the record itself by the API."""
    return {
        "group": event.group,
        "number": event.number,
        "thing": event.thing,
        "thing_id": event.thing_id,
        "thing_version": event.thing_version,
        "deleted": event.deleted,
        "by": event.by_id,
        "facts": event.facts,
    }


def message(kind: str, at: Any, data: dict[str, Any]) -> str:
    """The body in the specification's recommended form, as compact JSON."""
    body = {"type": kind, "timestamp": at, "data": data}
    return json.dumps(body, cls=JSONEncoder, separators=(",", ":"))


def send_soon(webhook_id: uuid.UUID) -> None:
    """Send a worker's task after the commit."""
    transaction.on_commit(
        lambda: broker.send("apps.events.tasks.deliver", str(webhook_id)), robust=True
    )
