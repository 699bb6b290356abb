"""Waits until results are up to date, without a transaction, a connection, or a turn."""

import threading
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.db import connection
from django.db.models import QuerySet

from apps.common.processes.turns import turns

LONGEST = 30
# Intervals between queries: short at first, because most recomputes are short.
FIRST_PAUSE, LONGEST_PAUSE = 0.05, 0.2

# Answers of a process that are not fresh, after a wait: so many a second, after the first few, and
# each at most so many seconds late. They are worth little, and hundreds at once would keep all
# other readers waiting.
IN_VAIN_PER_SECOND, IN_VAIN_AT_ONCE, LATEST = 10.0, 20, 15.0

Behind = Callable[[], QuerySet[Any]]


@dataclass(eq=False)
class Waiter:
    """One request that waits until the record is no longer among those `behind`."""

    pk: uuid.UUID
    behind: Behind
    ends: float
    fresh: bool = False
    woken: threading.Event = field(default_factory=threading.Event)

    @property
    def left(self) -> float:
        return 0.0 if self.fresh else max(0.0, self.ends - time.monotonic())


class Lookout:
    """All who wait in this process. One of them queries for all; when it leaves, another does."""

    def __init__(self) -> None:
        self._waiters: set[Waiter] = set()
        self._lock = threading.Lock()
        self._asking = threading.Lock()
        self._pause = FIRST_PAUSE

    def wait(self, waiter: Waiter) -> None:
        with self._lock:
            self._waiters.add(waiter)
            self._pause = FIRST_PAUSE
        try:
            while waiter.left:
                if self._asking.acquire(blocking=False):
                    try:
                        self._ask_for_all(waiter)
                    finally:
                        self._asking.release()
                else:
                    waiter.woken.wait(waiter.left)
                    waiter.woken.clear()
        finally:
            with self._lock:
                self._waiters.discard(waiter)
                if self._waiters:
                    next(iter(self._waiters)).woken.set()  # it goes on asking

    def _ask_for_all(self, until_left: Waiter) -> None:
        while until_left.left:
            leave_connection()
            time.sleep(min(self._pause, until_left.left))
            self._pause = min(self._pause * 1.5, LONGEST_PAUSE)
            self._ask()

    def _ask(self) -> None:
        """One query for each kind of result that somebody waits for."""
        alike: dict[Behind, list[Waiter]] = {}
        with self._lock:
            for waiter in self._waiters:
                alike.setdefault(waiter.behind, []).append(waiter)
        for behind, among in alike.items():
            wanted = {waiter.pk for waiter in among}
            still = set(behind().filter(pk__in=wanted).values_list("pk", flat=True))
            for waiter in among:
                if waiter.pk not in still:
                    waiter.fresh = True
                    waiter.woken.set()


class Pace:
    """When the next of many may come."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._next = 0.0

    def slot(self, now: float) -> float:
        with self._lock:
            earliest = now - IN_VAIN_AT_ONCE / IN_VAIN_PER_SECOND
            self._next = max(self._next, earliest) + 1 / IN_VAIN_PER_SECOND
            return min(max(self._next, now), now + LATEST)


lookout = Lookout()
in_vain = Pace()


def wait_until_fresh(pk: uuid.UUID, seconds: float, behind: Behind) -> bool:
    """Wait until the record is no longer among those `behind`, for at most `seconds`, or a little
    longer where many wait in vain.

    Returns at once if too many requests of this process wait already.
    """
    if not behind().filter(pk=pk).exists():
        return True
    turn = turns.current()
    waiter = Waiter(pk, behind, ends=time.monotonic() + min(seconds, LONGEST))
    if turn is None or turn.may_wait:
        leave_connection()
        with turns.waiting():
            lookout.wait(waiter)
            if not waiter.fresh:
                waiter.ends = in_vain.slot(time.monotonic())
                lookout.wait(waiter)
    if turn is not None:
        turn.in_vain = not waiter.fresh
    return waiter.fresh


def leave_connection() -> None:
    """Let others have the connection while this request only waits."""
    if not connection.in_atomic_block:
        connection.close()
