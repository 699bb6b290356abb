"""Messages to the worker that a trip needs a plan; if one is lost, the sweep finds the trip."""

import uuid
from collections.abc import Collection
from datetime import timedelta
from functools import partial

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from apps.common.processes.broker import broker
from apps.planning.models import Trip


def send_plan(trip_id: uuid.UUID) -> bool:
    return broker.send("apps.planning.tasks.plan_trip", str(trip_id))


def plan_later(trips: Collection[uuid.UUID]) -> None:
    """Send a message for each after the commit."""
    for trip_id in trips:
        transaction.on_commit(partial(send_plan, trip_id), robust=True)


def upcoming() -> QuerySet[Trip]:
    """Trips whose day is not over anywhere."""
    since = timezone.now().date() - timedelta(days=1)
    return Trip.objects.filter(state=Trip.State.PLANNED, day__gte=since)


def trips_touched(trips: QuerySet[Trip]) -> None:
    """Mark that something changed that these trips' plans may depend on; in its transaction.

    Trips without a plan, cancelled trips and past trips are skipped when planning.
    """
    # In a fixed order: concurrent changes must not deadlock on each other's trips.
    found = list(trips.filter(asked=True).order_by("pk").values_list("pk", flat=True).distinct())
    if found:
        Trip.objects.filter(pk__in=found).update(revision=F("revision") + 1)
        plan_later(found)
