"""Who sends what is due, and what becomes of it.

The database is the record of what is to be sent. A message to a worker is only a hint; whoever
gets it claims the webhook's lease, so that one worker at a time talks to one receiver, and what is
lost with a message or a worker is found by the sweep. A receiver may get the same message twice,
with the same `webhook-id`.
"""

import logging
import time
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from apps.common.encryption import Undecryptable, decrypt
from apps.events.models import Attempt, Delivery, Webhook
from apps.events.webhooks.posting import Outcome, post
from apps.events.webhooks.schedule import rest_after, wait_before_next
from apps.events.webhooks.services import webhook_stop
from apps.events.webhooks.signing import signed_headers

log = logging.getLogger(__name__)

# One receiver with much to get must not keep a worker from the others.
MOST_SECONDS = 60.0
MOST_SWEPT = 500
GONE = 410

State = Delivery.State


@dataclass(frozen=True)
class Lease:
    """The right to send to one webhook until it runs out."""

    webhook_id: uuid.UUID
    holder: uuid.UUID


def webhook_send(*, webhook_id: uuid.UUID) -> int:
    """Send what is due, until something fails or time is up. Returns the number of attempts."""
    attempts, until = 0, time.monotonic() + MOST_SECONDS
    # Looking again after the release catches a hint that came, and went, just before it.
    while time.monotonic() < until and webhooks_due().filter(pk=webhook_id).exists():
        lease = lease_claim(webhook_id)
        if lease is None:
            break
        try:
            attempts += _send_while(lease, until)
        finally:
            _held(lease).update(leased_by=None, leased_until=None)
    return attempts


def webhooks_due() -> QuerySet[Webhook]:
    """Those with something to send now, that nobody sends to and that need no rest."""
    now = timezone.now()
    return Webhook.objects.filter(
        Q(leased_until=None) | Q(leased_until__lte=now),
        Q(resting_until=None) | Q(resting_until__lte=now),
        Exists(deliveries_due(now).filter(webhook=OuterRef("pk"))),
        enabled=True,
    )


def deliveries_due(now: datetime) -> QuerySet[Delivery]:
    return Delivery.objects.filter(state=State.WAITING, due_at__lte=now)


def lease_claim(webhook_id: uuid.UUID) -> Lease | None:
    """Take the webhook's lease if it is free or has run out; None if somebody holds it."""
    lease = Lease(webhook_id, uuid.uuid4())
    now = timezone.now()
    free = Q(leased_until=None) | Q(leased_until__lte=now)
    claimed = Webhook.objects.filter(free, pk=webhook_id).update(
        leased_by=lease.holder, leased_until=now + lease_time()
    )
    return lease if claimed else None


def lease_time() -> timedelta:
    """Well over what one attempt may take, with the time to resolve a name."""
    return timedelta(seconds=60 + 3 * settings.WEBHOOK_TIMEOUT_SECONDS)


def _held(lease: Lease) -> QuerySet[Webhook]:
    return Webhook.objects.filter(pk=lease.webhook_id, leased_by=lease.holder)


def _send_while(lease: Lease, until: float) -> int:
    attempts = 0
    while time.monotonic() < until and _held(lease).update(
        leased_until=timezone.now() + lease_time()
    ):
        webhook = Webhook.objects.get(pk=lease.webhook_id)
        due = deliveries_due(timezone.now()).filter(webhook=webhook).order_by("due_at", "pk")
        delivery = due.first() if webhook.enabled else None
        if delivery is None:
            break
        outcome = attempt(webhook, delivery)
        attempts += 1
        outcome_record(lease=lease, delivery=delivery, outcome=outcome)
        if not outcome.succeeded:
            break
    return attempts


def attempt(webhook: Webhook, delivery: Delivery) -> Outcome:
    """Sign and send once. The timestamp is that of this attempt, the id that of the message."""
    body = delivery.body.encode()
    try:
        secrets = signing_secrets(webhook)
    except Undecryptable:
        return Outcome(error="secret_unreadable")
    return post(
        webhook.url, body, signed_headers(str(delivery.pk), int(time.time()), body, secrets)
    )


def signing_secrets(webhook: Webhook) -> list[str]:
    """The secret, and the one before it while that is kept. Raises `Undecryptable`."""
    held = [decrypt(webhook.secret)]
    if webhook.old_secret_until is not None and timezone.now() < webhook.old_secret_until:
        held.append(decrypt(webhook.old_secret))
    return held


@transaction.atomic
def outcome_record(*, lease: Lease, delivery: Delivery, outcome: Outcome) -> None:
    """Store what came of an attempt, unless somebody else has taken over meanwhile."""
    # Not the key: an event that is being committed must not wait for it, with the clock locked.
    webhook = _held(lease).select_for_update(no_key=True).first()
    waiting = Delivery.objects.filter(pk=delivery.pk, state=State.WAITING)
    if webhook is None or not waiting.exists():
        return
    Attempt.objects.create(
        delivery=delivery, status=outcome.status, error=outcome.error, seconds=outcome.seconds
    )
    now = timezone.now()
    if outcome.succeeded:
        waiting.update(state=State.DELIVERED, due_at=None, delivered_at=now)
        _held(lease).update(failures=0, resting_until=None, last_success_at=now)
        return
    failures = min(webhook.failures + 1, 1000)
    rest = rest_after(failures, outcome.retry_after_s)
    _held(lease).update(failures=failures, resting_until=now + rest)
    tries = delivery.tries + 1
    wait = wait_before_next(tries, outcome.retry_after_s)
    if outcome.status == GONE or wait is None:
        waiting.update(state=State.FAILED, due_at=None, tries=tries)
    else:
        waiting.update(due_at=now + wait, tries=tries)
    if outcome.status == GONE:
        webhook_stop(webhook_id=webhook.pk, because=Webhook.Stopped.GONE)
    elif wait is None and _nothing_got_through_since(webhook, delivery.created_at):
        webhook_stop(webhook_id=webhook.pk, because=Webhook.Stopped.NO_ANSWER)


def _nothing_got_through_since(webhook: Webhook, start: datetime) -> bool:
    return webhook.last_success_at is None or webhook.last_success_at < start
