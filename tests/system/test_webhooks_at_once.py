"""Webhooks during simultaneous writing, changing, sending and deleting."""

import contextlib
import random
import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import transaction

from apps.common.errors import Stale
from apps.events.models import Delivery, Webhook
from apps.events.services import event_record
from apps.events.webhooks import sending
from apps.events.webhooks.posting import Outcome
from apps.events.webhooks.services import webhook_change, webhook_create, webhook_delete
from apps.jobs.backoff import BackOff
from tests.system.test_changes_at_once import _several_writers, in_thread  # noqa: F401  (fixture)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served]

ROUNDS = 25


@pytest.fixture
def hooked(cast) -> Webhook:
    webhook, _ = webhook_create(
        group_id=cast.group.id, by_id=cast.ola.person.id, url="https://hooks.example.org/"
    )
    return webhook


def write(group_id: uuid.UUID) -> None:
    for _ in range(ROUNDS):
        with transaction.atomic():
            event_record(
                group_id=group_id, kind="quote.added", thing="quote", thing_id=uuid.uuid4()
            )


def send(webhook_id: uuid.UUID) -> None:
    for _ in range(ROUNDS):
        sending.webhook_send(webhook_id=webhook_id)


def switch(webhook_id: uuid.UUID, by_id: uuid.UUID) -> None:
    for n in range(ROUNDS):
        webhook = Webhook.objects.get(pk=webhook_id)
        with contextlib.suppress(Stale):
            webhook_change(
                webhook=webhook,
                by_id=by_id,
                facts={"enabled": bool(n % 2)},
                expected_version=webhook.version,
            )


@pytest.fixture
def receivers_at_random(monkeypatch):
    """Receivers that accept, fail or refuse at random, without the network."""
    chance = random.Random(4)

    def post(*_) -> Outcome:
        return Outcome(status=chance.choice([204, 204, 500, 410]))

    monkeypatch.setattr(sending, "post", post)
    monkeypatch.setattr(sending, "RECEIVER", BackOff((timedelta(0),)))


def test_nothing_deadlocks_and_a_stopped_webhook_has_nothing_waiting(
    cast, hooked, receivers_at_random
):
    by_id = cast.ola.person.id
    with ThreadPoolExecutor(6) as pool:
        running = [
            in_thread(pool, write, cast.group.id),
            in_thread(pool, write, cast.group.id),
            in_thread(pool, send, hooked.pk),
            in_thread(pool, send, hooked.pk),
            in_thread(pool, switch, hooked.pk, by_id),
        ]
    for one in running:
        one.result()
    webhook = Webhook.objects.get()
    assert webhook.leased_by is None
    webhook_change(
        webhook=webhook, by_id=by_id, facts={"enabled": False}, expected_version=webhook.version
    )
    assert not Delivery.objects.filter(state="waiting").exists()


def test_deleting_one_never_fails_the_events_that_it_wanted(cast, receivers_at_random):
    for _ in range(5):
        webhook, _ = webhook_create(
            group_id=cast.group.id, by_id=cast.ola.person.id, url="https://hooks.example.org/"
        )
        with ThreadPoolExecutor(4) as pool:
            running = [
                in_thread(pool, write, cast.group.id),
                in_thread(pool, write, cast.group.id),
                in_thread(
                    pool,
                    lambda doomed: webhook_delete(
                        webhook=doomed,
                        by_id=cast.ola.person.id,
                        expected_version=doomed.version,
                    ),
                    webhook,
                ),
            ]
        for one in running:
            one.result()
    assert not Webhook.objects.exists()
    assert not Delivery.objects.exists()
