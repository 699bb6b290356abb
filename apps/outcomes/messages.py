"""Messages that make a worker compute a club's statistics."""

import uuid

from apps.common.processes.broker import broker


def send_refresh(club_id: uuid.UUID) -> bool:
    return broker.send("apps.outcomes.tasks.refresh_club", str(club_id))
