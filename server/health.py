"""Health checks: by HTTP for monitoring, and for each process by `python -m server.health PART`.

The answers have codes and no details, because anybody can call them.
"""

import logging
import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from socket import gethostname
from urllib.request import urlopen

from django.db import connection
from django.db.utils import Error
from django.http import HttpRequest, JsonResponse
from django.utils import timezone

log = logging.getLogger(__name__)

LOOKED_FOR_SECONDS = 5.0  # for so long an answer about the work stands
WEB = "http://127.0.0.1:8000/health/ready"


def live(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is checked."""
    return JsonResponse({"status": "alive"})


def ready(request: HttpRequest) -> JsonResponse:
    """503 if the database does not answer: nothing can be served.

    Otherwise 200, so that a proxy goes on sending requests: `degraded` with reasons if results,
    messages or plans are late, because no worker or no scheduler works.
    """
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        reasons = work.reasons()
    except Error:
        log.exception("the database does not answer")
        return JsonResponse({"status": "not ready"}, status=503)
    return JsonResponse({"status": "degraded" if reasons else "ready", "reasons": reasons})


class Work:
    """What is wrong with the background work, looked for every few seconds at most."""

    def __init__(self, look: Callable[[], Iterator[str]]) -> None:
        self._look = look
        self._lock = threading.Lock()
        self._until = 0.0
        self._reasons: list[str] = []

    def reasons(self) -> list[str]:
        with self._lock:
            if time.monotonic() >= self._until:
                self._reasons = list(self._look())
                self._until = time.monotonic() + LOOKED_FOR_SECONDS
            return self._reasons


def look() -> Iterator[str]:
    """The codes of what is wrong now; server/docs/operating/07-alerts.md says what to do."""
    from django.conf import settings

    from apps.appraisal.jobs import oldest_change_not_in_results
    from apps.jobs import life
    from server.queues import length

    late = settings.LATE_AFTER.total_seconds()
    changed_at = oldest_change_not_in_results()
    if changed_at and timezone.now() - changed_at > settings.LATE_AFTER:
        yield "results_late"
    try:
        for queue in life.QUEUES:
            if life.silent_for(queue) > life.COUNTS_FOR_SECONDS:
                yield f"no_worker_{queue}"
            elif life.untaken_for(queue) > late and length(queue):
                yield f"messages_late_{queue}"
        if life.silent_for(life.BEAT) > life.COUNTS_FOR_SECONDS:
            yield "no_scheduler"
    except Exception:  # of the cache's or the broker's library
        log.exception("Redis does not answer")
        yield "no_broker"


work = Work(look)


def check(part: str) -> bool:
    """Whether this host's process of the part works: web, beat, or a worker's queue."""
    if part == "web":
        with urlopen(WEB, timeout=4) as answer:
            return bool(answer.status == 200)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
    from apps.jobs import life

    if part not in life.PARTS:
        raise SystemExit(f"one of: web {' '.join(life.PARTS)}")
    return life.lives(part, gethostname())


if __name__ == "__main__":
    sys.exit(0 if check(*sys.argv[1:2]) else 1)
