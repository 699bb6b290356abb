import uuid

from celery import shared_task

from apps.appraisal import jobs
from apps.appraisal.messages import send_pool, send_recompute
from apps.appraisal.pooling import pools


@shared_task
def recompute_list(list_id: str) -> None:
    if jobs.list_recompute(list_id=uuid.UUID(list_id)) == jobs.MOST_ROUNDS:
        send_recompute(uuid.UUID(list_id))  # to the end of the queue, after the other lists


@shared_task
def sweep() -> None:
    """Send lost messages again: every list is recomputed in the end without its own message."""
    for list_id in jobs.due_and_free():
        send_recompute(list_id)


@shared_task
def pool_clubs() -> None:
    for club_id in pools.clubs_pooling():
        send_pool(club_id)


@shared_task
def pool_club(club_id: str) -> None:
    if pools.club_pool(club_id=uuid.UUID(club_id)).left:
        send_pool(uuid.UUID(club_id))  # to the end of the queue, after the lists
