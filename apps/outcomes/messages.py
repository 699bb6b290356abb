"""Telling a worker that a club's statistics are to be worked out."""

import uuid

from apps.common.broker import broker


def send_refresh(club_id: uuid.UUID) -> bool:
    return broker.send("apps.outcomes.tasks.refresh_club", str(club_id))
