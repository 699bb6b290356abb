"""Telling a worker that a club's memory is to be worked out."""

import uuid

from apps.common.broker import broker


def send_refresh(club_id: uuid.UUID) -> bool:
    return broker.send("apps.outcomes.tasks.refresh_club", str(club_id))
