"""Messages to a worker: a list has changed, or a club is to be pooled."""

import uuid

from apps.common.processes.broker import broker


def send_recompute(list_id: uuid.UUID) -> bool:
    return broker.send("apps.appraisal.tasks.recompute_list", str(list_id))


def send_pool(club_id: uuid.UUID) -> bool:
    return broker.send("apps.appraisal.tasks.pool_club", str(club_id))
