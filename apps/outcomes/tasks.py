import uuid

from celery import shared_task

from apps.outcomes import services
from apps.outcomes.messages import send_refresh


@shared_task
def refresh_outcomes() -> None:
    for club_id in services.clubs_with_outcomes():
        send_refresh(club_id)


@shared_task
def refresh_club(club_id: str) -> None:
    if services.club_outcomes_refresh(club_id=uuid.UUID(club_id)).superseded:
        send_refresh(uuid.UUID(club_id))
