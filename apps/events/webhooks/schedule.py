"""When a message that did not get through is tried again."""

import random
from datetime import timedelta

# Waits before the first, second, ... attempt: the specification's example schedule.
SCHEDULE = (
    timedelta(0),
    timedelta(seconds=5),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=5),
    timedelta(hours=10),
    timedelta(hours=14),
    timedelta(hours=20),
    timedelta(hours=24),
)
JITTER = 0.2  # up to so much later, so that what failed together is not tried together
LONGEST_WAIT = timedelta(hours=24)

FIRST_REST = timedelta(seconds=5)
LONGEST_REST = timedelta(minutes=15)


def wait_before_next(tries: int, retry_after_s: float | None = None) -> timedelta | None:
    """How long to wait after so many failed attempts; None if the schedule is over."""
    if tries >= len(SCHEDULE):
        return None
    wait = SCHEDULE[tries] * (1 + JITTER * random.random())  # noqa: S311 - nothing secret
    return max(wait, _asked_for(retry_after_s))


def rest_after(failures: int, retry_after_s: float | None = None) -> timedelta:
    """How long nothing at all is sent to an endpoint that failed so many times in a row.

    A receiver that is down costs one attempt a rest, however many messages wait for it.
    """
    longer: float = 2 ** min(failures - 1, 16)
    rest = min(FIRST_REST * longer, LONGEST_REST)
    return max(rest, _asked_for(retry_after_s))


def _asked_for(retry_after_s: float | None) -> timedelta:
    return timedelta(seconds=min(retry_after_s or 0.0, LONGEST_WAIT.total_seconds()))
