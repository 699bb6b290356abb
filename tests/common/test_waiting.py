"""Requests that wait for results hold neither a turn nor queries of their own."""

import threading
import time
import uuid
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor

import pytest

from apps.common.processes import waiting
from apps.common.processes.turns import Turns
from tests.system.processes import until

LONG = 20.0  # nobody waits so long here
A, B = uuid.uuid4(), uuid.uuid4()


class Records:
    """Some records that are behind, queried as by a queryset."""

    def __init__(self, *behind: uuid.UUID) -> None:
        self.behind = set(behind)
        self.asked: list[set[uuid.UUID]] = []

    def __call__(self) -> "Records":
        return self

    def filter(self, *, pk: uuid.UUID | None = None, pk__in: Iterable[uuid.UUID] = ()) -> "Records":
        found = Records(*(self.behind & ({pk} if pk else set(pk__in))))
        if not pk:
            self.asked.append(set(pk__in))
        return found

    def exists(self) -> bool:
        return bool(self.behind)

    def values_list(self, *_: str, flat: bool) -> set[uuid.UUID]:
        return self.behind


@pytest.fixture
def records() -> Records:
    return Records(A, B)


@pytest.fixture(autouse=True)
def left(monkeypatch) -> list[int]:
    """The threads that gave their connection back."""
    threads: list[int] = []
    monkeypatch.setattr(waiting, "leave_connection", lambda: threads.append(threading.get_ident()))
    return threads


class Web:
    """A web server's process: so many turns, and places for so many that wait."""

    def __init__(self, turns: Turns, pool: ThreadPoolExecutor, records: Records) -> None:
        self.turns, self.pool, self.records = turns, pool, records
        self.waiting = waiting.lookout._waiters

    def read(self, pk: uuid.UUID = A, seconds: float = LONG) -> bool:
        with self.turns.turn(asks_to_wait=True) as turn:
            fresh = waiting.wait_until_fresh(pk, seconds, self.records)
            assert turn.in_vain is not fresh
            return fresh

    def readers(self, count: int, pk: uuid.UUID = A, seconds: float = LONG) -> list[Future[bool]]:
        """They wait once this returns."""
        there = len(self.waiting)
        asking = [self.pool.submit(self.read, pk, seconds) for _ in range(count)]
        until(lambda: len(self.waiting) == there + count, every=0.01)
        return asking


@pytest.fixture
def web(monkeypatch, records):
    pool = ThreadPoolExecutor(12)

    def made(working: int, places: int) -> Web:
        turns = Turns(working, places)
        monkeypatch.setattr(waiting, "turns", turns)
        return Web(turns, pool, records)

    yield made
    records.behind.clear()
    pool.shutdown()
    assert waiting.lookout._waiters == set()


def in_time(call: Callable[[], object]) -> object:
    started = time.monotonic()
    answer = call()
    assert time.monotonic() - started < LONG / 2
    return answer


def test_it_works(web, records):
    one = web(working=1, places=10)
    asking = one.readers(10)
    records.behind.discard(A)
    assert [reader.result(LONG) for reader in asking] == [True] * 10


def test_those_that_wait_keep_no_connection(web, left):
    web(working=1, places=10).readers(5)
    assert len(set(left)) == 5


def test_those_that_wait_keep_nobody_from_a_turn(web):
    one = web(working=1, places=10)
    one.readers(10)

    def read() -> None:
        with one.turns.turn(asks_to_wait=False):
            pass

    in_time(read)


def test_beyond_the_places_the_answer_comes_at_once(web):
    one = web(working=1, places=3)
    one.readers(3)
    assert in_time(one.read) is False


def test_a_place_is_free_again_after_the_answer(web, records):
    one = web(working=1, places=1)
    for _ in range(3):
        assert one.read(seconds=0.01) is False
    (asking,) = one.readers(1)
    records.behind.clear()
    assert asking.result(LONG)


def test_one_of_them_asks_for_all(web, records):
    one = web(working=2, places=10)
    one.readers(4, A)
    one.readers(4, B)
    records.asked.clear()
    until(lambda: len(records.asked) >= 3, every=0.01)
    assert records.asked[-1] == {A, B}
    one.readers(1, A, seconds=0.3)
    started = time.monotonic()
    records.asked.clear()
    time.sleep(1)
    seconds = time.monotonic() - started
    assert len(records.asked) <= seconds / waiting.FIRST_PAUSE


def test_when_the_one_who_asks_leaves_another_goes_on(web, records):
    one = web(working=2, places=10)
    (first,) = one.readers(1, A, seconds=0.3)
    asking = one.readers(3, B)
    assert first.result(LONG) is False
    records.behind.discard(B)
    assert [reader.result(LONG) for reader in asking] == [True] * 3


def test_when_asking_fails_another_goes_on(web, records, monkeypatch):
    one = web(working=2, places=10)
    asking = one.readers(3)
    failed = threading.Event()
    ask = waiting.lookout._ask

    def fail_once() -> None:
        if not failed.is_set():
            failed.set()
            raise OSError("the database is away")
        ask()

    monkeypatch.setattr(waiting.lookout, "_ask", fail_once)
    until(failed.is_set, every=0.01)
    records.behind.clear()
    results = [reader.exception(LONG) or reader.result() for reader in asking]
    assert sorted(map(str, results)) == ["True", "True", "the database is away"]


def test_many_answers_that_are_not_fresh_come_one_after_another():
    pace = waiting.Pace()
    at_once, every = waiting.IN_VAIN_AT_ONCE, 1 / waiting.IN_VAIN_PER_SECOND
    slots = [pace.slot(100.0) for _ in range(1000)]
    assert slots[:at_once] == [100.0] * at_once
    assert slots[at_once + 1] - slots[at_once] == pytest.approx(every)
    assert max(slots) == 100.0 + waiting.LATEST
    assert pace.slot(1000.0) == 1000.0, "after a while the first are not late again"


def test_whoever_is_late_still_gets_what_became_fresh(web, records, monkeypatch):
    one = web(working=2, places=10)
    monkeypatch.setattr(waiting.in_vain, "slot", lambda now: now + LONG)
    (asking,) = one.readers(1, A, seconds=0.1)
    threading.Event().wait(0.3)
    assert not asking.done()
    records.behind.clear()
    assert asking.result(LONG) is True
