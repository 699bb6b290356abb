"""Claims a job, keeps its lease, and records its outcome at the release.

A message to a worker is only a hint; the database records what must be done. A worker that gets the
message claims the job's lease by one conditional update. The sweep finds jobs whose message or
worker was lost. All times are the database's own, because workers' clocks may differ.
"""

import math
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Generic, TypeVar

from django.apps import apps
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Coalesce, Now

from apps.jobs.backoff import BackOff
from apps.jobs.models import Job, StorageJob

# The longest lease without a heartbeat, longer than a task may take (CELERY_TASK_TIME_LIMIT). A
# lease that ends later was set by a wrong clock.
LONGEST = timedelta(minutes=10)
LEASE = timedelta(minutes=6)
MOST_SWEPT = 500
MOST_ATTEMPTS_COUNTED = 1000
STORAGE_FIRST_WAIT, STORAGE_LONGEST_WAIT = timedelta(seconds=10), timedelta(hours=1)

J = TypeVar("J", bound=Job)

FREE: dict[str, Any] = {"leased_by": None, "leased_until": None}
# The fields that a success resets.
WELL: dict[str, Any] = {
    "attempts": 0,
    "last_error": "",
    "failing_since": None,
    "next_attempt_at": None,
}


def free(of: str = "") -> Q:
    """The condition that nobody works on the job. of: the prefix of its fields in the query."""
    until = f"{of}leased_until"
    return (
        Q(**{until: None}) | Q(**{f"{until}__lte": Now()}) | Q(**{f"{until}__gt": Now() + LONGEST})
    )


def rested(of: str = "", *, now: datetime | None = None) -> Q:
    """The condition that no earlier attempt makes it wait."""
    at = f"{of}next_attempt_at"
    return Q(**{at: None}) | Q(**{f"{at}__lte": now or Now()})


@dataclass(frozen=True)
class Lease(Generic[J]):
    """The right to work on one job until it ends. job: its state when it was claimed."""

    job: J
    holder: uuid.UUID
    length: timedelta

    @property
    def rows(self) -> QuerySet[J]:
        """The job's row, unless another worker has claimed it. The holder must store through it."""
        rows: QuerySet[J] = type(self.job)._base_manager.filter(pk=self.job.pk)
        return rows.filter(leased_by=self.holder)

    def heartbeat(self, **values: Any) -> bool:
        """Extend the lease from now. False if another worker has it, or the job is done."""
        unfinished = self.rows.filter(self.job.UNFINISHED)
        return bool(unfinished.update(leased_until=Now() + self.length, **values))

    def heartbeats(self) -> Callable[[], None]:
        """A function to call between steps of long work; extends the lease when a third is used."""
        third = self.length.total_seconds() / 3
        last = time.monotonic()

        def beat() -> None:
            nonlocal last
            if time.monotonic() - last > third:
                self.heartbeat()
                last = time.monotonic()

        return beat

    def release(self, **values: Any) -> bool:
        return bool(self.rows.update(**FREE, **values))

    def succeed(self, **values: Any) -> bool:
        return self.release(**WELL, **values)

    def count_attempt(self) -> int:
        """Count an attempt before making it, because it may kill the worker. Returns the number."""
        self.rows.update(attempts=F("attempts") + 1)
        return self.rows.values_list("attempts", flat=True).first() or 0

    def fail(
        self,
        error: Exception,
        back_off: BackOff | None,
        *,
        counted: bool = False,
        at_least: timedelta = timedelta(0),
        **values: Any,
    ) -> bool:
        """Release it and record the error. False if this was the last attempt and it is given up.

        back_off: None gives it up. counted: by `count_attempt`. at_least: the shortest wait.
        """
        attempts = self.rows.values_list("attempts", flat=True).first()
        if attempts is None:
            return True  # another worker continues it
        attempts = min(attempts + (not counted), MOST_ATTEMPTS_COUNTED)
        wait = back_off.wait(attempts, at_least) if back_off else None
        self._note(
            error,
            attempts=attempts,
            next_attempt_at=None if wait is None else Now() + wait,
            **values,
        )
        return wait is not None

    def _note(self, error: Exception, **values: Any) -> None:
        self.release(
            last_error=f"{type(error).__name__}: {error}"[:2000],
            failing_since=Coalesce("failing_since", Now()),
            **values,
        )


def wait_for_storage(lease: Lease[Any], error: Exception, **first: Any) -> timedelta:
    """Wait for a storage that is away or full, without counting an attempt.

    The waiting time is the time for which it has failed so far, which is returned. first: other
    fields to store when it begins to fail.
    """
    job: StorageJob | None = lease.rows.annotate(now=Now()).first()
    if job is None:
        return timedelta(0)
    since = job.storage_failing_since
    failed_for = job.now - since if since else timedelta(0)  # type: ignore[attr-defined]  # annotated
    wait = min(max(failed_for, STORAGE_FIRST_WAIT), STORAGE_LONGEST_WAIT)
    begins = {} if since else {"storage_failing_since": Now(), **first}
    lease._note(error, attempts=0, next_attempt_at=Now() + wait, **begins)
    return failed_for


def claim(due: QuerySet[J], pk: Any, length: timedelta = LEASE) -> Lease[J] | None:
    """Take the job's lease if the job is due and nobody has it.

    The update checks the lease on the row itself, besides what makes the job due: if another worker
    was quicker, PostgreSQL evaluates the row's own conditions again, but no subqueries.
    """
    jobs: QuerySet[J] = due.model._base_manager.filter(free(), pk=pk, pk__in=due.values("pk"))
    holder, length = uuid.uuid4(), min(length, LONGEST)
    if not jobs.update(leased_by=holder, leased_until=Now() + length):
        return None
    job = due.model._base_manager.filter(pk=pk, leased_by=holder).first()
    return Lease(job, holder, length) if job else None


def work_while_due(
    claimed: Callable[[], Lease[J] | None],
    work: Callable[[Lease[J]], object],
    most_rounds: float = math.inf,
) -> int:
    """Work in rounds until the job is not due or another worker has it. Returns how many.

    The check after the release catches a message that was consumed just before it.
    """
    rounds = 0
    while rounds < most_rounds and (lease := claimed()) is not None:
        rounds += 1
        try:
            work(lease)
        finally:
            lease.release()
    return rounds


def swept(due: QuerySet[Any]) -> list[uuid.UUID]:
    """The jobs to send messages for again: due and without a holder, or with a dead one."""
    return list(due.filter(free()).values_list("pk", flat=True)[:MOST_SWEPT])


def kinds() -> list[type[Job]]:
    return [model for model in apps.get_models() if issubclass(model, Job)]


def void_all() -> None:
    """End all leases, before the only worker starts: their holders have died."""
    for kind in kinds():
        kind._base_manager.exclude(leased_by=None).update(leased_by=None, leased_until=Now())
