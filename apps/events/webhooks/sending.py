"""Sends due messages and records the outcomes.

The database records what must be sent. The holder of the webhook's lease sends, so one worker at a
time talks to one receiver. A receiver may get a message twice, with the same `webhook-id`.
"""

import logging
import time
import uuid
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from apps.common.encryption import Undecryptable, decrypt
from apps.events.models import Attempt, Delivery, Webhook
from apps.events.webhooks.posting import Outcome, post
from apps.events.webhooks.services import webhook_stop
from apps.events.webhooks.signing import signed_headers
from apps.jobs.backoff import MESSAGE, RECEIVER
from apps.jobs.leases import WELL, Lease, claim, rested, work_while_due

log = logging.getLogger(__name__)

# One receiver with many messages must not keep a worker from the others.
MOST_SECONDS = 60.0
GONE = 410
LONGEST_ASKED = timedelta(hours=24)

State = Delivery.State


class NotDelivered(Exception):
    """The failure of an attempt, for operators."""


def webhook_send(*, webhook_id: uuid.UUID) -> int:
    """Send what is due, until something fails or time is up. Returns the number of attempts."""
    attempts, until = 0, time.monotonic() + MOST_SECONDS

    def send(lease: Lease[Webhook]) -> None:
        nonlocal attempts
        attempts += _send_while(lease, until)

    work_while_due(lambda: lease_claim(webhook_id) if time.monotonic() < until else None, send)
    return attempts


def webhooks_due() -> QuerySet[Webhook]:
    """Webhooks with due messages that do not wait after a failure."""
    due = deliveries_due(timezone.now()).filter(webhook=OuterRef("pk"))
    return Webhook.objects.filter(Webhook.UNFINISHED, rested(), Exists(due))


def deliveries_due(now: datetime) -> QuerySet[Delivery]:
    return Delivery.objects.filter(state=State.WAITING, due_at__lte=now)


def lease_claim(webhook_id: uuid.UUID) -> Lease[Webhook] | None:
    """Claim the lease for well over the time of one attempt, including resolving the name."""
    length = timedelta(seconds=60 + 3 * settings.WEBHOOK_TIMEOUT_SECONDS)
    return claim(webhooks_due(), webhook_id, length)


def _send_while(lease: Lease[Webhook], until: float) -> int:
    attempts = 0
    while time.monotonic() < until and lease.heartbeat():
        webhook = Webhook.objects.get(pk=lease.job.pk)
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
    """Sign and send once. The timestamp is this attempt's, the id the message's."""
    body = delivery.body.encode()
    try:
        secrets = signing_secrets(webhook)
    except Undecryptable:
        return Outcome(error="secret_unreadable")
    return post(
        webhook.url, body, signed_headers(str(delivery.pk), int(time.time()), body, secrets)
    )


def signing_secrets(webhook: Webhook) -> list[str]:
    """The secret, and the previous one while it is kept. Raises `Undecryptable`."""
    held = [decrypt(webhook.secret)]
    if webhook.old_secret_until is not None and timezone.now() < webhook.old_secret_until:
        held.append(decrypt(webhook.old_secret))
    return held


@transaction.atomic
def outcome_record(*, lease: Lease[Webhook], delivery: Delivery, outcome: Outcome) -> None:
    """Store an attempt's outcome, unless another worker has taken over meanwhile."""
    # `no_key`: an event's delivery, written with the sequence locked, must not wait for this lock.
    webhook = lease.rows.select_for_update(no_key=True).first()
    waiting = Delivery.objects.filter(pk=delivery.pk, state=State.WAITING)
    if webhook is None or not waiting.exists():
        return
    Attempt.objects.create(
        delivery=delivery, status=outcome.status, error=outcome.error, seconds=outcome.seconds
    )
    now = timezone.now()
    if outcome.succeeded:
        waiting.update(state=State.DELIVERED, due_at=None, delivered_at=now)
        lease.rows.update(**WELL, last_success_at=now)
        return
    asked = asked_for(outcome.retry_after_s)
    error = NotDelivered(outcome.error or f"the answer was {outcome.status}")
    lease.fail(error, RECEIVER, at_least=asked)
    tries = delivery.tries + 1
    wait = MESSAGE.wait(tries, asked)
    if outcome.status == GONE or wait is None:
        waiting.update(state=State.FAILED, due_at=None, tries=tries)
    else:
        waiting.update(due_at=now + wait, tries=tries)
    if outcome.status == GONE:
        webhook_stop(webhook_id=webhook.pk, because=Webhook.Stopped.GONE)
    elif wait is None and _nothing_got_through_since(webhook, delivery.created_at):
        webhook_stop(webhook_id=webhook.pk, because=Webhook.Stopped.NO_ANSWER)


def asked_for(retry_after_s: float | None) -> timedelta:
    """The waiting time from the receiver's Retry-After, within limits."""
    return timedelta(seconds=min(retry_after_s or 0.0, LONGEST_ASKED.total_seconds()))


def _nothing_got_through_since(webhook: Webhook, start: datetime) -> bool:
    return webhook.last_success_at is None or webhook.last_success_at < start
