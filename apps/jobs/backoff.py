"""Waiting times after failed attempts: one table for all jobs."""

import random
from dataclasses import dataclass
from datetime import timedelta

JITTER = 0.2  # up to this share later, so that jobs that failed together are not retried together


@dataclass(frozen=True)
class BackOff:
    """Waiting times after the first, second, ... failed attempt; the last one repeats.

    most_attempts: after so many failures the job is given up; None: never.
    """

    waits: tuple[timedelta, ...]
    most_attempts: int | None = None

    def wait(self, failed: int, at_least: timedelta = timedelta(0)) -> timedelta | None:
        """The waiting time after so many failed attempts; None: the job is given up."""
        if self.exhausted(failed):
            return None
        wait = self.waits[min(max(failed, 1), len(self.waits)) - 1]
        return max(wait * (1 + JITTER * random.random()), at_least)  # noqa: S311 - nothing secret

    def exhausted(self, failed: int) -> bool:
        return self.most_attempts is not None and failed >= self.most_attempts


def _of_seconds(*waits: int, gives_up: bool = False) -> BackOff:
    return BackOff(
        tuple(timedelta(seconds=wait) for wait in waits), len(waits) + 1 if gives_up else None
    )


MINUTE, HOUR = 60, 3600

# Jobs that must succeed: they are retried for ever. With jitter the longest wait is an hour.
MUST = _of_seconds(5, 10, 20, 40, 80, 160, 320, 640, 1280, 50 * MINUTE)
# Jobs that somebody asked for, and can ask for again.
ASKED = _of_seconds(20, MINUTE, 3 * MINUTE, 10 * MINUTE, gives_up=True)
MAIL = _of_seconds(MINUTE, 5 * MINUTE, 30 * MINUTE, 2 * HOUR, 6 * HOUR, 12 * HOUR, gives_up=True)
# A receiver of webhooks that is down costs one attempt per wait, however many messages wait.
RECEIVER = _of_seconds(5, 10, 20, 40, 80, 160, 320, 640, 15 * MINUTE)
# One message to a receiver: the example schedule of the Standard Webhooks specification (1.0.0).
MESSAGE = _of_seconds(
    5,
    5 * MINUTE,
    30 * MINUTE,
    *(hours * HOUR for hours in (2, 5, 10, 14, 20, 24)),
    gives_up=True,
)
