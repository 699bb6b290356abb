"""The change feed with many simultaneous writers, on a database that allows them."""

import random
import threading
import time
import uuid
from concurrent.futures import ThreadPoolExecutor, wait

import pytest
from django.db import connection, connections, transaction

from apps.events.models import Event
from apps.events.services import event_record
from apps.groups.models import Group, Membership
from tests.events.test_changes import ask

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served]

WRITERS, READERS, ROUNDS = 5, 2, 15  # connections of one process: DATABASE_POOL, eight by default


@pytest.fixture(autouse=True)
def _several_writers():
    if connection.vendor == "sqlite":
        pytest.skip("SQLite has one writer, and its memory one connection")


def in_thread(pool, function, *arguments):
    def run():
        try:
            return function(*arguments)
        finally:
            connections.close_all()

    return pool.submit(run)


class GaveUp(Exception):
    """A transaction that is undone after its events were written."""


def write(seed: int, groups: list[Group]) -> None:
    """Transactions of one to three events in one or both groups, some undone, none in a hurry."""
    chance = random.Random(seed)
    for _ in range(ROUNDS):
        try:
            with transaction.atomic():
                # Always in the same order, as everybody who locks two clocks must.
                for group in groups if chance.random() < 0.3 else [chance.choice(groups)]:
                    for _ in range(chance.randint(1, 3)):
                        event_record(
                            group_id=group.id,
                            kind="candidate.changed",
                            thing="candidate",
                            thing_id=uuid.uuid4(),
                        )
                        time.sleep(chance.random() / 250)
                if chance.random() < 0.2:
                    raise GaveUp
        except GaveUp:
            pass


def follow(who, cursor: str, written: threading.Event) -> list[dict]:
    """Poll like a client until the writers are done and no changes are left."""
    found, last_time = [], False
    while True:
        done = written.is_set()
        answer = ask(who, cursor, limit=7)
        cursor = answer["cursor"]
        found += answer["results"]
        if done and last_time and not answer["more"]:
            return found
        last_time = done and not answer["more"]


def test_no_change_is_missed_doubled_or_out_of_order(cast):
    second = Group.objects.create(name="Plover")
    for who in (cast.ben, cast.ivy):
        Membership.objects.create(group=second, person=who.person, role="observer", buys=False)
    groups = sorted([cast.group, second], key=lambda group: group.id)
    starts = [(who, ask(who)["cursor"]) for who in (cast.ben, cast.ivy)][:READERS]
    written = threading.Event()
    with ThreadPoolExecutor(WRITERS + READERS) as pool:
        readers = [in_thread(pool, follow, who, cursor, written) for who, cursor in starts]
        writers = [in_thread(pool, write, seed, groups) for seed in range(WRITERS)]
        wait(writers)
        written.set()
        read = [reader.result(timeout=60) for reader in readers]
    for writer in writers:
        writer.result()
    stored = Event.objects.filter(group__in=[group.id for group in groups])
    assert stored.count() > WRITERS * ROUNDS
    for changes in read:
        for group in groups:
            of_group = [change for change in changes if change["group"] == str(group.id)]
            numbers = [change["number"] for change in of_group]
            assert numbers == list(range(1, len(numbers) + 1))
            assert [change["thing_id"] for change in of_group] == [
                str(event.thing_id) for event in stored.filter(group=group.id).order_by("number")
            ]


def test_a_later_change_waits_until_the_earlier_one_is_stored(cast):
    """Otherwise a reader would miss the earlier one for ever."""
    cursor = ask(cast.ben)["cursor"]
    begun, finish = threading.Event(), threading.Event()

    def record(kind: str) -> None:
        event_record(group_id=cast.group.id, kind=kind, thing="list", thing_id=uuid.uuid4())

    def slow() -> None:
        with transaction.atomic():
            record("list.earlier")
            begun.set()
            finish.wait(20)

    def quick() -> None:
        with transaction.atomic():
            record("list.later")

    with ThreadPoolExecutor(2) as pool:
        first = in_thread(pool, slow)
        assert begun.wait(20)
        second = in_thread(pool, quick)
        time.sleep(0.5)
        assert not second.done()
        meanwhile = ask(cast.ben, cursor)
        assert meanwhile["results"] == []
        finish.set()
        first.result(timeout=20)
        second.result(timeout=20)
    after = ask(cast.ben, meanwhile["cursor"])
    assert [change["kind"] for change in after["results"]] == ["list.earlier", "list.later"]
