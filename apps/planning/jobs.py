"""Planning, in a worker. The database is the record of which plan may be another one now.

A message is only a hint. Whoever gets it claims the trip's lease by one conditional update, reads
the revision, works outside any transaction, and stores the plan only if the revision is the same.
"""

import logging
import uuid
from datetime import datetime, timedelta

from django.db import transaction
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
    """Trips whose plan may be another one now and that nobody works on."""
    free = Q(leased_until=None) | Q(leased_until__lte=now or timezone.now())
    return upcoming().filter(free, asked=True, planned_revision__lt=F("revision"))


def trip_plan(*, trip_id: uuid.UUID, now: datetime | None = None) -> int:
    """Plan until the plan is up to date, unless somebody else does already. Returns the rounds."""
    rounds = 0
    while rounds < MOST_ROUNDS and _claim(trip_id):
        rounds += 1
        try:
            _work(trip_id, now or timezone.now())
        except Exception:
            _failed(trip_id)
            break
        Trip.objects.filter(pk=trip_id).update(leased_until=None, attempts=0)
    return rounds


def _claim(trip_id: uuid.UUID) -> bool:
    claimed = trips_due().filter(pk=trip_id)
    return bool(claimed.update(leased_until=timezone.now() + LEASE, attempts=F("attempts") + 1))


def _work(trip_id: uuid.UUID, now: datetime) -> None:
    """One round. What changes meanwhile moves the revision, and nothing is stored."""
    gathered = gather(trips_whole().get(pk=trip_id), now)
    trip = gathered.trip
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


def _failed(trip_id: uuid.UUID) -> None:
    trip = Trip.objects.get(pk=trip_id)
    log.exception("planning trip %s failed (attempt %s)", trip_id, trip.attempts)
    if trip.attempts < MOST_ATTEMPTS:
        wait = FIRST_RETRY * 4**trip.attempts
        Trip.objects.filter(pk=trip_id).update(leased_until=timezone.now() + wait)
        return
    with transaction.atomic():
        Trip.objects.filter(pk=trip_id).update(
            outcome=Trip.Outcome.FAILED,
            planned_revision=F("revision"),
            leased_until=None,
            attempts=0,
        )


def sweep() -> None:
    """Send again what was lost."""
    for trip_id in trips_due().order_by("day", "pk").values_list("pk", flat=True)[:MOST_SWEPT]:
        send_plan(trip_id)
