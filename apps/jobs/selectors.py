"""Failing jobs of all kinds, in one form."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q
from django.db.models.functions import Coalesce

from apps.jobs.leases import free, kinds

MOST_LISTED = 100  # of each kind
ABANDONED = "the worker that held it was not heard of again"


@dataclass(frozen=True)
class Failing:
    """One job that failed or whose worker died, and that will be retried."""

    kind: str
    pk: str
    since: datetime
    attempts: int
    next_attempt_at: datetime | None
    last_error: str


def failing() -> Iterator[Failing]:
    """All failing jobs; of each kind, the longest failing first. One query for each kind."""
    abandoned = free() & ~Q(leased_by=None)
    failed = ~Q(failing_since=None)
    for kind in kinds():
        jobs = kind._base_manager.filter(kind.UNFINISHED, abandoned | failed)
        since = jobs.annotate(since=Coalesce("failing_since", "leased_until"))
        for job in since.order_by("since", "pk")[:MOST_LISTED]:
            yield Failing(
                kind=kind._meta.label,
                pk=str(job.pk),
                since=job.since,
                attempts=job.attempts,
                next_attempt_at=job.next_attempt_at,
                last_error=job.last_error or ABANDONED,
            )
