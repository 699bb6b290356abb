"""Telling a worker that a club's memory is to be worked out."""

import uuid

from apps.common.broker import broker


def send_remember(club_id: uuid.UUID) -> bool:
    return broker.send("apps.memory.tasks.remember_club", str(club_id))
