"""Notifications and mails with several simultaneous workers: nothing is doubled or lost."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.core.mail.backends.locmem import EmailBackend
from django.db import connection
from django.utils import timezone

from apps.boats.list_services import list_create
from apps.boats.models import Candidate
from apps.boats.services import candidate_create, price_add
from apps.events.models import EventSequence
from apps.notifications.jobs import group_notify
from apps.notifications.mail.mailing import digests_send
from apps.notifications.models import DigestEmail, EventCursor, Inbox, Notification
from apps.notifications.services import inbox_change, notifications_mark
from tests.system.test_changes_at_once import _several_writers, in_thread  # noqa: F401  (fixture)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served]

ROUNDS = 12


@pytest.fixture
def boats(cast) -> list[Candidate]:
    brief = {"currency": "USD", "budget": Decimal(60_000)}
    spring = list_create(group_id=cast.group.id, by=cast.ola.person, name="Spring", brief=brief)
    made = [
        candidate_create(candidate_list=spring, by=cast.ola.person, facts={"name": f"Boat {n}"})
        for n in range(3)
    ]
    group_notify(group_id=cast.group.id)
    Notification.objects.update(read_at=timezone.now())
    for who in (cast.ola, cast.ben, cast.bea, cast.hal, cast.ivy):
        Inbox.objects.update_or_create(
            id=who.person.pk,
            defaults={"person": who.person, "confirmed_email": who.person.email},
        )
    return made


def write(cast, boats, start: int) -> None:
    for n in range(ROUNDS):
        boat = boats[n % len(boats)]
        amount = Decimal(start + n)
        price_add(candidate=boat, by=cast.ola.person, amount=amount, currency="USD")


def notify(group_id, written: threading.Event) -> None:
    while True:
        last = written.is_set()
        group_notify(group_id=group_id)
        if last:
            return
        time.sleep(0.01)


def test_several_workers_make_one_notification_of_each_cause(cast, boats):
    written = threading.Event()
    with ThreadPoolExecutor(6) as pool:
        writers = [in_thread(pool, write, cast, boats, 20_000 + 1_000 * n) for n in range(2)]
        workers = [in_thread(pool, notify, cast.group.id, written) for _ in range(3)]
        for one in writers:
            one.result()
        written.set()
        for one in workers:
            one.result()
    group_notify(group_id=cast.group.id)
    told = Notification.objects.filter(type="price_changed", read_at=None, settled_at=None)
    for who in (cast.ben, cast.bea, cast.hal, cast.ivy):
        found = told.filter(person=who.person)
        assert sorted(found.values_list("candidate", flat=True)) == [boat.pk for boat in boats]
        # Each change is in one notification, except the withdrawn prices, which are in none.
        assert sum(found.values_list("times", flat=True)) == 2 * ROUNDS
    assert not told.filter(person=cast.ola.person).exists()
    assert EventCursor.objects.get().number == EventSequence.objects.get(group=cast.group.id).last


def test_marking_and_choosing_while_more_is_told_deadlocks_nobody(cast, boats):
    def mark() -> None:
        for _ in range(ROUNDS):
            last = Inbox.objects.get(pk=cast.bea.person.pk).last
            notifications_mark(person=cast.bea.person, up_to=last)

    def choose() -> None:
        for n in range(ROUNDS):
            inbox_change(
                person=cast.bea.person,
                facts={"hour": n},
                expected_version=Inbox.objects.get(pk=cast.bea.person.pk).version,
            )

    written = threading.Event()
    with ThreadPoolExecutor(6) as pool:
        writer = in_thread(pool, write, cast, boats, 20_000)
        others = [
            in_thread(pool, notify, cast.group.id, written),
            in_thread(pool, mark),
            in_thread(pool, choose),
        ]
        writer.result()
        written.set()
        for one in others:
            one.result()
    numbers = list(
        Notification.objects.filter(person=cast.bea.person).values_list("number", flat=True)
    )
    assert len(numbers) == len(set(numbers))
    assert Inbox.objects.get(pk=cast.bea.person.pk).last >= max(numbers)


class Slow(EmailBackend):
    """A slow mail server that all workers share."""

    taken: list[str]
    guard = threading.Lock()

    def open(self) -> None:
        time.sleep(0.01)

    def send_messages(self, messages) -> int:
        assert not connection.in_atomic_block  # never inside a transaction
        time.sleep(0.02)
        with self.guard:
            Slow.taken += [message.extra_headers["Message-ID"] for message in messages]
        return len(messages)


def test_several_workers_send_each_digest_once(cast, boats):
    Slow.taken = []
    write(cast, boats, 20_000)
    group_notify(group_id=cast.group.id)
    assert DigestEmail.objects.count() == 4
    DigestEmail.objects.update(next_attempt_at=timezone.now())
    with ThreadPoolExecutor(6) as pool:
        for one in [in_thread(pool, digests_send, Slow) for _ in range(6)]:
            one.result()
    assert len(Slow.taken) == len(set(Slow.taken)) == 4
    assert set(DigestEmail.objects.values_list("state", flat=True)) == {"sent"}
    assert not Notification.objects.filter(
        read_at=None, settled_at=None, digest=None, type="price_changed"
    ).exists()


def test_one_digest_that_all_want_to_send_is_sent_once(cast, boats):
    Slow.taken = []
    write(cast, boats[:1], 20_000)
    group_notify(group_id=cast.group.id)
    (digest, *rest) = DigestEmail.objects.order_by("pk")
    DigestEmail.objects.filter(pk__in=[one.pk for one in rest]).delete()
    DigestEmail.objects.update(next_attempt_at=timezone.now())
    together = threading.Barrier(6)

    def send() -> None:
        together.wait(timeout=30)
        digests_send(Slow)

    with ThreadPoolExecutor(6) as pool:
        for one in [in_thread(pool, send) for _ in range(6)]:
            one.result()
    assert Slow.taken == [f"<{digest.pk}@localhost>"]
