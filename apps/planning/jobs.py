"""Planning, in a worker. The database is the record of which plan may be another one now.

A message is only a hint. Whoever gets it claims the trip's lease by one conditional update, reads
the revision, works outside any transaction, and stores the plan only if the revision is the same.
"""

import logging
import uuid
from datetime import datetime, timedelta

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from apps.planning.gathering import gather
from apps.planning.listeners import upcoming
from apps.planning.messages import send_plan
from apps.planning.models import Trip
from apps.planning.problem import Infeasible
from apps.planning.selectors import trips_whole
from apps.planning.solving import solve
from apps.planning.storing import impossible_store, plan_store, unchanged_store

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=6)  # longer than a task may take (CELERY_TASK_TIME_LIMIT)
FIRST_RETRY = timedelta(seconds=10)
MOST_ATTEMPTS = 4
MOST_ROUNDS = 3
MOST_SWEPT = 100


def trips_due(now: datetime | None = None) -> QuerySet[Trip]:
    """Trips whose plan may be another one now and that nobody works on.

    What failed waits for its time, or for a change.
    """
    now = now or timezone.now()
    free = Q(leased_until=None) | Q(leased_until__lte=now)
    resting = Q(failed_revision=F("revision"), retry_at__gt=now)
    due = upcoming().filter(free, asked=True, planned_revision__lt=F("revision"))
    return due.exclude(resting).exclude(group__importing=True)


def trip_plan(*, trip_id: uuid.UUID, now: datetime | None = None) -> int:
    """Plan until the plan is up to date, unless somebody else does already. Returns the rounds."""
    rounds = 0
    while rounds < MOST_ROUNDS and _claim(trip_id):
        rounds += 1
        trip = trips_whole().get(pk=trip_id)
        try:
            _work(trip, now or timezone.now())
        except Exception:
            _failed(trip)
            break
        Trip.objects.filter(pk=trip_id).update(
            leased_until=None, attempts=0, failed_revision=0, retry_at=None
        )
    return rounds


def _claim(trip_id: uuid.UUID) -> bool:
    return bool(trips_due().filter(pk=trip_id).update(leased_until=timezone.now() + LEASE))


def _work(trip: Trip, now: datetime) -> None:
    """One round. What changes meanwhile moves the revision, and nothing is stored."""
    gathered = gather(trip, now)
    known = trip.digest == gathered.digest and not trip.worths_anew
    if known and trip.outcome == Trip.Outcome.PLANNED:
        unchanged_store(gathered)
        return
    try:
        solution = solve(gathered.problem)
    except Infeasible as refused:
        impossible_store(gathered, refused.boats)
        return
    plan_store(gathered, solution, now)


def _failed(trip: Trip) -> None:
    """Note that the trip as it was read could not be planned; after some attempts, give up."""
    attempts = trip.attempts + 1 if trip.failing else 1
    log.exception("planning trip %s failed (attempt %s)", trip.pk, attempts)
    stored = Trip.objects.filter(pk=trip.pk)
    stored.update(
        leased_until=None,
        attempts=attempts,
        failed_revision=trip.revision,
        retry_at=timezone.now() + FIRST_RETRY * 4**attempts,
    )
    if attempts >= MOST_ATTEMPTS:
        stored.filter(revision=trip.revision).update(
            outcome=Trip.Outcome.FAILED, planned_revision=trip.revision
        )


def sweep() -> None:
    """Send again what was lost."""
    for trip_id in trips_due().order_by("day", "pk").values_list("pk", flat=True)[:MOST_SWEPT]:
        send_plan(trip_id)
