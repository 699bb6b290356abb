"""Messages to send, written in the transaction of the event they tell of."""

import json
import uuid
from typing import Any

from django.db import transaction
from django.utils import timezone
from rest_framework.utils.encoders import JSONEncoder

from apps.common.broker import broker
from apps.events.models import Delivery, Event, Webhook
from apps.events.webhooks.kinds import KINDS


def event_send(event: Event) -> None:
    """Write one delivery for each webhook that wants to know of this event.

    Call it when the group's clock is locked: then no webhook is deleted meanwhile. What is for one
    person alone is sent to nobody.
    """
    if event.kind not in KINDS or event.only_for is not None:
        return
    webhooks = Webhook.objects.filter(group=event.group, enabled=True).only("id", "kinds")
    wanting = [webhook for webhook in webhooks if not webhook.kinds or event.kind in webhook.kinds]
    if not wanting:
        return
    body = message(event.kind, event.created_at, facts_of(event))
    now = timezone.now()
    Delivery.objects.bulk_create(
        Delivery(webhook=webhook, kind=event.kind, body=body, due_at=now) for webhook in wanting
    )
    for webhook in wanting:
        send_soon(webhook.pk)


def facts_of(event: Event) -> dict[str, Any]:
    """The same as the change feed says of the event; the record itself is read by the API."""
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
    """The body in the form the specification recommends, as short as JSON can be."""
    body = {"type": kind, "timestamp": at, "data": data}
    return json.dumps(body, cls=JSONEncoder, separators=(",", ":"))


def send_soon(webhook_id: uuid.UUID) -> None:
    """After the commit, tell a worker that there is something to send."""
    transaction.on_commit(
        lambda: broker.send("apps.events.tasks.deliver", str(webhook_id)), robust=True
    )
