"""Waits until results are up to date, without holding a transaction or a connection."""

import time
import uuid
from collections.abc import Callable
from typing import Any

from django.db import connection
from django.db.models import QuerySet

LONGEST = 30
# Intervals between queries: short at first, because most recomputes are short.
FIRST_PAUSE, LONGEST_PAUSE = 0.05, 0.2


def wait_until_fresh(pk: uuid.UUID, seconds: float, behind: Callable[[], QuerySet[Any]]) -> bool:
    """Wait until the record is no longer among those `behind`, for at most `seconds`."""
    ends = time.monotonic() + min(seconds, LONGEST)
    pause = FIRST_PAUSE
    while behind().filter(pk=pk).exists():
        left = ends - time.monotonic()
        if left <= 0:
            return False
        # Others can use the connection while this one only waits.
        if not connection.in_atomic_block:
            connection.close()
        time.sleep(min(pause, left))
        pause = min(pause * 1.5, LONGEST_PAUSE)
    return True
