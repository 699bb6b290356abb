"""Telling a worker that a list changed, or that a club is to be pooled."""

import uuid
<<<<<<< HEAD
from collections.abc import Collection
from typing import Any

from apps.boats.revisions import groups_inputs_changed
from apps.common.broker import broker
=======
>>>>>>> 42e6c17 (A change is told in one way: by events, to whose kinds other apps subscribe)


def send_recompute(list_id: uuid.UUID) -> bool:
    return broker.send("apps.appraisal.tasks.recompute_list", str(list_id))


def send_pool(club_id: uuid.UUID) -> bool:
<<<<<<< HEAD
    return broker.send("apps.appraisal.tasks.pool_club", str(club_id))


def on_list_inputs_changed(*, list_id: uuid.UUID, **_: Any) -> None:
    """Receiver of `boats.signals.list_inputs_changed`, called after the commit."""
    send_recompute(list_id)


def on_catalogue_changed(*, group_ids: Collection[uuid.UUID], **_: Any) -> None:
    """Receiver of `catalogue.signals.catalogue_changed`, in the transaction of the change."""
    groups_inputs_changed(group_ids)


def on_club_changed(*, group_id: uuid.UUID, **_: Any) -> None:
    """Receiver of `groups.signals.club_joined` and `club_left`: another catalogue holds now."""
    groups_inputs_changed([group_id])
=======
    return messages.broker.send("apps.appraisal.tasks.pool_club", str(club_id))
>>>>>>> 42e6c17 (A change is told in one way: by events, to whose kinds other apps subscribe)
