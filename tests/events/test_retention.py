"""Deletion of old events and messages."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.events.models import Delivery, Event, EventSequence, Webhook
from apps.events.retention import deliveries_prune, events_prune
from apps.events.tasks import prune
from apps.http.models import IdempotencyRecord
from apps.http.retention import idempotency_records_prune
from tests.events.test_changes import ask, happen


def grow_old(rows, **age) -> None:
    rows.update(created_at=timezone.now() - timedelta(**age))


def test_events_are_announced_as_forgotten_and_deleted_the_next_time(cast, settings):
    settings.CHANGES_KEPT = timedelta(days=30)
    start = ask(cast.ben)["cursor"]
    for _ in range(5):
        happen(cast.group)
    happen(cast.other_group)
    grow_old(Event.objects.filter(group=cast.group.id, number__lte=3), days=31)
    middle = Event.objects.count()

    assert events_prune() == 0
    assert Event.objects.count() == middle
    assert EventSequence.objects.get(group=cast.group.id).pruned == 3
    assert cast.ben.get(f"/changes?since={start}").status_code == 410

    assert events_prune() == 3
    assert list(Event.objects.filter(group=cast.group.id).values_list("number", flat=True)) == [
        4,
        5,
    ]
    assert EventSequence.objects.get(group=cast.other_group.id).pruned == 0
    assert events_prune() == 0


def test_a_cursor_at_what_was_forgotten_last_reads_on(cast, settings):
    happen(cast.group)
    cursor = ask(cast.ben)["cursor"]
    grow_old(Event.objects.all(), days=365)
    events_prune()
    events_prune()
    happen(cast.group, "quote.added")
    assert [change["kind"] for change in ask(cast.ben, cursor)["results"]] == ["quote.added"]


def test_numbers_go_on_after_forgetting(cast):
    happen(cast.group)
    grow_old(Event.objects.all(), days=365)
    events_prune()
    events_prune()
    assert happen(cast.group).number == 2


def test_answers_are_kept_longer_than_promised(cast):
    for key, hours in (("young", 25), ("old", 49)):
        cast.sten.post("/groups", {"name": "Knot"}, Idempotency_Key=key)
        grow_old(IdempotencyRecord.objects.filter(key=key), hours=hours)
    assert idempotency_records_prune() == 1
    assert IdempotencyRecord.objects.get().key == "young"


@pytest.mark.parametrize("state", ["delivered", "failed", "waiting"])
def test_only_settled_messages_are_forgotten(cast, state):
    webhook = Webhook.objects.create(group=cast.group.id, url="https://x.example.org/", secret="x")
    now = timezone.now()
    Delivery.objects.create(
        webhook=webhook,
        kind="quote.added",
        body="{}",
        state=state,
        due_at=now if state == "waiting" else None,
        delivered_at=now if state == "delivered" else None,
    )
    grow_old(Delivery.objects.all(), days=91)
    assert deliveries_prune() == (state != "waiting")


def test_all_of_it_is_one_task(cast):
    happen(cast.group)
    grow_old(Event.objects.all(), days=365)
    prune()
    assert EventSequence.objects.get(group=cast.group.id).pruned == 1
