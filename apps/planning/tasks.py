import uuid

from celery import shared_task

from apps.planning import jobs


@shared_task
def plan_trip(trip_id: str) -> None:
    jobs.trip_plan(trip_id=uuid.UUID(trip_id))


@shared_task
def sweep_trips() -> None:
    jobs.sweep()
