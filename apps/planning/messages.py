"""Telling the worker that a trip waits for a plan; only a hint, the sweep finds it anyway."""

import uuid
from collections.abc import Collection
from datetime import timedelta
from functools import partial

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from apps.common.broker import broker
from apps.planning.models import Trip


def send_plan(trip_id: uuid.UUID) -> bool:
    return broker.send("apps.planning.tasks.plan_trip", str(trip_id))


def plan_later(trips: Collection[uuid.UUID]) -> None:
    """After the commit, a message for each."""
    for trip_id in trips:
        transaction.on_commit(partial(send_plan, trip_id), robust=True)


def upcoming() -> QuerySet[Trip]:
    """Trips whose day is not over anywhere."""
    since = timezone.now().date() - timedelta(days=1)
    return Trip.objects.filter(state=Trip.State.PLANNED, day__gte=since)


def trips_touched(trips: QuerySet[Trip]) -> None:
    """Something changed that the plans of these trips may depend on; in its transaction.

    Trips without a plan, called off or over are left alone by whoever plans.
    """
    # In a steady order: two changes at once must not wait for each other's trips.
    found = list(trips.filter(asked=True).order_by("pk").values_list("pk", flat=True).distinct())
    if found:
        Trip.objects.filter(pk__in=found).update(revision=F("revision") + 1)
        plan_later(found)
