"""What becomes stale or is deleted after events of other apps."""

from uuid import UUID

from django.db import transaction

from apps.appraisal import messages
from apps.appraisal.pooling.pools import pool_drop
from apps.boats.revisions import groups_inputs_changed
from apps.events.models import Event
from apps.events.subscriptions import subscribe


@subscribe("list.inputs_changed")
def list_inputs_changed(event: Event) -> None:
    transaction.on_commit(lambda: messages.send_recompute(event.thing_id), robust=True)


@subscribe("catalogue.changed", "group.joined_club", "group.club_ends")
def catalogue_changed(event: Event) -> None:
    """The group's catalogue has changed."""
    groups_inputs_changed([event.group])


@subscribe("group.pooling_ended")
def pooling_ended(event: Event) -> None:
    """The group loses its pool. The others are pooled again without its findings."""
    pool_drop(group_id=event.group)
    club_id = UUID(event.facts["club"])
    transaction.on_commit(lambda: messages.send_pool(club_id), robust=True)
