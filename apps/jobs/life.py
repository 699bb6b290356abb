"""Signs of life of the processes that do background work, in the cache that all processes share.

A worker's own loop says that it is there, and which queues it takes messages from. Each task says
that a message of its queue was taken. The scheduler's loop says that it is there. No sign outlives
its process by more than a minute.
"""

import logging
import time
from collections.abc import Iterable

from django.core.cache import cache

log = logging.getLogger(__name__)

BEAT = "beat"
QUEUES = RESULTS, SENDING, PLANNING = "results", "sending", "planning"
PARTS = (*QUEUES, BEAT)

ENDED = ("SUCCESS", "FAILURE", "RETRY")  # as Celery names them

EVERY_SECONDS = 10.0
COUNTS_FOR_SECONDS = 60.0
KEPT_SECONDS = 7 * 24 * 3600


def sign_of_life(part: str, host: str) -> None:
    """Say that this host's process of a part works. Never raises: the work goes on regardless."""
    try:
        cache.set(_life(part), time.time(), timeout=KEPT_SECONDS)
        cache.set(_life(part, host), True, timeout=COUNTS_FOR_SECONDS)
    except Exception:
        log.warning("no sign of life of %s: the cache does not answer", part, exc_info=True)


def message_taken(queue: str) -> None:
    """Say that a worker took a message of the queue. Never raises."""
    try:
        cache.set(_taken(queue), time.time(), timeout=KEPT_SECONDS)
    except Exception:
        log.warning("the cache does not answer", exc_info=True)


def task_ended(task: str, state: str) -> None:
    """Count a task that ended in a state of `ENDED`. Never raises."""
    try:
        cache.add(_ended(task, state), 0, timeout=None)
        cache.incr(_ended(task, state))
    except Exception:
        log.warning("a task was not counted: the cache does not answer", exc_info=True)


def tasks_ended(tasks: Iterable[str]) -> dict[tuple[str, str], int]:
    """How many of these tasks ended, by name and state, since the cache is there."""
    keys = {_ended(task, state): (task, state) for task in tasks for state in ENDED}
    counts = cache.get_many(keys)
    return {named: counts.get(key, 0) for key, named in keys.items()}


def lives(part: str, host: str) -> bool:
    """Whether this host's process of the part has just given a sign of life."""
    return cache.get(_life(part, host)) is not None


def silent_for(part: str) -> float:
    """Seconds since a process of the part, on any host, gave a sign of life.

    If there never was one, they count from the first call, so that a service that is just being
    started has time to sign.
    """
    return _since(_life(part))


def untaken_for(queue: str) -> float:
    """Seconds since a message of the queue was taken; before the first, as in `silent_for`."""
    return _since(_taken(queue))


def nobody_works(queue: str) -> bool:
    """Whether no worker takes this queue's messages; true also if the cache is away."""
    try:
        return silent_for(queue) > COUNTS_FOR_SECONDS
    except Exception:  # of the cache's own library
        return True


def _since(key: str) -> float:
    now = time.time()
    cache.add(key, now, timeout=KEPT_SECONDS)
    return max(0.0, now - float(cache.get(key, now)))


def _life(part: str, host: str = "") -> str:
    return f"life:{part}:{host}"


def _ended(task: str, state: str) -> str:
    return f"ended:{task}:{state}"


def _taken(queue: str) -> str:
    return f"taken:{queue}"
