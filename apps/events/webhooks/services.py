"""Services of webhooks and their messages. The callers in apps/groups check permissions."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from apps.common.encryption import encrypt
from apps.common.errors import Conflict, Invalid, Stale
from apps.common.services import record_create
from apps.events.models import Delivery, Webhook
from apps.events.services import event_record
from apps.events.webhooks.kinds import TRIAL
from apps.events.webhooks.outbox import message, send_soon
from apps.events.webhooks.signing import new_secret
from apps.events.webhooks.targets import TargetRefused, target_of
from apps.jobs.leases import WELL

MOST_WEBHOOKS = 20  # per group, because each event writes a row for each


@transaction.atomic
def webhook_create(
    *,
    group_id: uuid.UUID,
    by_id: uuid.UUID,
    url: str,
    note: str = "",
    kinds: Sequence[str] = (),
    id: uuid.UUID | None = None,
) -> tuple[Webhook, str]:
    """Make a webhook with its secret, shown once. Raises `Invalid` at /url, `Conflict`."""
    _check_url(url)
    secret = new_secret()
    webhook = Webhook(group=group_id, url=url, note=note, kinds=list(kinds), secret=encrypt(secret))
    record_create(webhook, id)
    _record_event(webhook, by_id, "webhook.added")
    # Counted while the group's sequence is locked, so that two at once do not exceed the limit.
    if Webhook.objects.filter(group=group_id).count() > MOST_WEBHOOKS:
        raise Conflict("too_many_webhooks", f"A group has up to {MOST_WEBHOOKS} webhooks.")
    return webhook, secret


@transaction.atomic
def webhook_change(
    *, webhook: Webhook, by_id: uuid.UUID, facts: Mapping[str, Any], expected_version: int
) -> Webhook:
    """Change `url`, `note`, `kinds`, `enabled`. Stopping it fails its waiting messages."""
    if "url" in facts:
        _check_url(facts["url"])
    for field, value in facts.items():
        setattr(webhook, field, value)
    webhook.stopped_because = (
        "" if webhook.enabled else webhook.stopped_because or Webhook.Stopped.BY_HAND
    )
    webhook.save_changes(expected_version=expected_version, fields=[*facts, "stopped_because"])
    # After a change, send at once so that its effect shows.
    Webhook.objects.filter(pk=webhook.pk).update(**WELL)
    webhook.attempts, webhook.next_attempt_at = 0, None
    _record_event(webhook, by_id, "webhook.changed")
    if webhook.enabled:
        send_soon(webhook.pk)
    else:
        _give_up_waiting(webhook.pk)
    return webhook


@transaction.atomic
def webhook_delete(*, webhook: Webhook, by_id: uuid.UUID, expected_version: int) -> None:
    """Delete the webhook with its messages."""
    same = Webhook.objects.filter(pk=webhook.pk, version=expected_version)
    if not same.select_for_update(no_key=True).exists():
        raise Stale
    # Before deleting, because this locks the group's sequence: no event writes a delivery
    # meanwhile.
    _record_event(webhook, by_id, "webhook.deleted", deleted=True)
    webhook.delete()


@transaction.atomic
def secret_rotate(*, webhook: Webhook, by_id: uuid.UUID, keep_old: timedelta) -> str:
    """Make a new secret, shown once. The old one signs beside it for so long."""
    secret = new_secret()
    keep = keep_old > timedelta(0)
    webhook.old_secret = webhook.secret if keep else ""
    webhook.old_secret_until = timezone.now() + keep_old if keep else None
    webhook.secret = encrypt(secret)
    webhook.save_changes(fields=["secret", "old_secret", "old_secret_until"])
    _record_event(webhook, by_id, "webhook.secret_rotated")
    return secret


@transaction.atomic
def webhook_stop(*, webhook_id: uuid.UUID, because: Webhook.Stopped) -> None:
    """Stop sending because of the receiver's answers; its waiting messages fail."""
    webhook = Webhook.objects.filter(pk=webhook_id, enabled=True).first()
    if webhook is None:
        return
    webhook.enabled, webhook.stopped_because = False, because
    webhook.save_changes(fields=["enabled", "stopped_because"])
    _record_event(webhook, None, "webhook.stopped")
    _give_up_waiting(webhook.pk)


@transaction.atomic
def trial_send(*, webhook: Webhook) -> Delivery:
    """Send a message about nothing, to test whether it arrives."""
    _require_enabled(webhook)
    now = timezone.now()
    body = message(TRIAL, now, {"group": webhook.group, "webhook": webhook.pk})
    delivery = Delivery.objects.create(webhook=webhook, kind=TRIAL, body=body, due_at=now)
    _send_at_once(webhook)
    return delivery


@transaction.atomic
def delivery_resend(*, delivery: Delivery) -> Delivery:
    """Send it again under the same id, with a new schedule of attempts."""
    _require_enabled(delivery.webhook)
    again = Delivery.objects.filter(pk=delivery.pk).exclude(state=Delivery.State.WAITING)
    if not again.update(state=Delivery.State.WAITING, tries=0, due_at=timezone.now()):
        raise Conflict("waiting_already", "This message is waiting to be sent.")
    delivery.refresh_from_db()
    _send_at_once(delivery.webhook)
    return delivery


def _send_at_once(webhook: Webhook) -> None:
    Webhook.objects.filter(pk=webhook.pk).update(next_attempt_at=None)
    send_soon(webhook.pk)


def _require_enabled(webhook: Webhook) -> None:
    if not webhook.enabled:
        raise Conflict("stopped", "The webhook is stopped. Enable it first.")


def _give_up_waiting(webhook_id: uuid.UUID) -> None:
    """Fail waiting messages. Call it while the group's sequence is locked, so none is added."""
    waiting = Delivery.objects.filter(webhook=webhook_id, state=Delivery.State.WAITING)
    waiting.update(state=Delivery.State.FAILED, due_at=None)


def _check_url(url: str) -> None:
    try:
        target_of(url)
    except TargetRefused as refused:
        raise Invalid.at("/url", refused.code, refused.detail) from refused


def _record_event(
    webhook: Webhook, by_id: uuid.UUID | None, kind: str, *, deleted: bool = False
) -> None:
    event_record(
        group_id=webhook.group,
        kind=kind,
        thing="webhook",
        thing_id=webhook.pk,
        thing_version=webhook.version,
        by_id=by_id,
        deleted=deleted,
    )
