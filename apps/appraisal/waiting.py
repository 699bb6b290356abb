"""Waiting until results are up to date, without holding a transaction or a connection."""

import time
import uuid
from collections.abc import Callable

from django.db import connection
from django.db.models import QuerySet

from apps.boats.models import CandidateList

LONGEST = 30
# How often the database is asked: at once the first times, for most recomputes are short.
FIRST_PAUSE, LONGEST_PAUSE = 0.05, 0.2


def wait_until_fresh(
    list_id: uuid.UUID, seconds: float, behind: Callable[[], QuerySet[CandidateList]]
) -> bool:
    """Whether the list is no longer among those `behind`, at the latest after `seconds`."""
    ends = time.monotonic() + min(seconds, LONGEST)
    pause = FIRST_PAUSE
    while behind().filter(pk=list_id).exists():
        left = ends - time.monotonic()
        if left <= 0:
            return False
        # Others need the connection while this one only waits.
        if not connection.in_atomic_block:
            connection.close()
        time.sleep(min(pause, left))
        pause = min(pause * 1.5, LONGEST_PAUSE)
    return True
