"""Planning in a worker. The database is the record of which plans are out of date.

The worker that claims the trip's lease reads the revision, works outside any transaction, and
stores the plan only if the revision has not changed.
"""

import logging
import uuid
from datetime import datetime

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from apps.jobs.backoff import ASKED
from apps.jobs.leases import Lease, claim, rested, swept, work_while_due
from apps.planning.gathering import gather
from apps.planning.messages import send_plan, upcoming
from apps.planning.models import Trip
from apps.planning.selectors import trips_whole
from apps.planning.solver.problem import Infeasible
from apps.planning.storing import impossible_store, plan_store, unchanged_store

log = logging.getLogger(__name__)

MOST_ROUNDS = 3


def trips_due() -> QuerySet[Trip]:
    """Trips whose plan is out of date. A failed one waits for its next time, or for a change."""
    may = rested() | ~Q(failed_revision=F("revision"))
    return upcoming().filter(Trip.UNFINISHED, may).exclude(group__importing=True)


def trip_plan(*, trip_id: uuid.UUID, now: datetime | None = None) -> int:
    """Plan until the plan is up to date, unless another worker does so. Returns the rounds."""
    return work_while_due(
        lambda: claim(trips_due(), trip_id),
        lambda lease: _round(lease, now or timezone.now()),
        MOST_ROUNDS,
    )


def _round(lease: Lease[Trip], now: datetime) -> None:
    trip = trips_whole().get(pk=lease.job.pk)
    try:
        _work(trip, now)
    except Exception as error:
        log.exception("planning trip %s failed", trip.pk)
        _failed(lease, trip, error)
    else:
        lease.succeed(failed_revision=0)


def _work(trip: Trip, now: datetime) -> None:
    """One round. If something changes in the meantime, the revision moves and nothing is stored."""
    gathered = gather(trip, now)
    known = trip.digest == gathered.digest and not trip.values_anew
    if known and trip.outcome == Trip.Outcome.PLANNED:
        unchanged_store(gathered)
        return
    # The solver's libraries take a second to load, and no other process needs them at its start.
    from apps.planning.solver.solving import solve

    try:
        solution = solve(gathered.problem)
    except Infeasible as refused:
        impossible_store(gathered, refused.boats)
        return
    plan_store(gathered, solution, now)


def _failed(lease: Lease[Trip], trip: Trip, error: Exception) -> None:
    """Record that this revision of the trip could not be planned; give up after some attempts."""
    if not trip.failing:
        lease.heartbeat(attempts=0)  # earlier attempts were at another revision
    if not lease.fail(error, ASKED, failed_revision=trip.revision):
        Trip.objects.filter(pk=trip.pk, revision=trip.revision).update(
            outcome=Trip.Outcome.FAILED, planned_revision=trip.revision
        )


def sweep() -> None:
    """Send lost messages again."""
    for trip_id in swept(trips_due().order_by("day", "pk")):
        send_plan(trip_id)
