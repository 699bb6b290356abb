import uuid

from celery import shared_task

from apps.memory import services
from apps.memory.messages import send_remember


@shared_task
def remember_clubs() -> None:
    for club_id in services.clubs_remembering():
        send_remember(club_id)


@shared_task
def remember_club(club_id: str) -> None:
    if services.club_remember(club_id=uuid.UUID(club_id)).overtaken:
        send_remember(uuid.UUID(club_id))
