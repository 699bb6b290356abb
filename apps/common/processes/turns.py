"""Limits how many requests a process works on at a time. Those that wait for results do not count.

Threads that wait cost little, threads that work side by side slow each other down. So the web
server has many threads, of which few have a turn. A request that waits gives its turn back, and
takes another one to answer.
"""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings


@dataclass
class Turn:
    """The right to work on one request.

    may_wait: whether it has a place among those that wait. in_vain: whether its wait ended before
    the results were up to date.
    """

    semaphores: tuple[threading.Semaphore, ...]
    may_wait: bool
    in_vain: bool = False

    def take(self) -> None:
        for semaphore in self.semaphores:
            semaphore.acquire()

    def give_back(self) -> None:
        for semaphore in reversed(self.semaphores):
            semaphore.release()


class Turns:
    """The turns of one process: so many `working`, and places for so many `waiting`."""

    def __init__(self, working: int, waiting: int) -> None:
        self._working = threading.BoundedSemaphore(working)
        # Those that waited answer one after another: hundreds may have waited for one list, and
        # other readers must not stand behind all of them.
        self._after_waiting = threading.BoundedSemaphore(1)
        self._places = threading.BoundedSemaphore(waiting) if waiting else None
        self._of_this_thread = threading.local()

    def current(self) -> Turn | None:
        """The turn of this thread's request; None outside of one."""
        return getattr(self._of_this_thread, "turn", None)

    @contextmanager
    def turn(self, *, asks_to_wait: bool) -> Iterator[Turn]:
        """Hold a turn. Without a free place, a request that asks to wait gets one of a reader."""
        place = self._places if asks_to_wait else None
        if place is not None and not place.acquire(blocking=False):
            place = None
        semaphores = (self._after_waiting, self._working) if place else (self._working,)
        turn = Turn(semaphores, may_wait=place is not None)
        turn.take()
        self._of_this_thread.turn = turn
        try:
            yield turn
        finally:
            self._of_this_thread.turn = None
            turn.give_back()
            if place is not None:
                place.release()

    @contextmanager
    def waiting(self) -> Iterator[None]:
        """Let others have this request's turn."""
        turn = self.current()
        if turn is None:
            yield
            return
        turn.give_back()
        try:
            yield
        finally:
            turn.take()


turns = Turns(settings.REQUESTS_AT_ONCE, settings.MOST_WAITING)
