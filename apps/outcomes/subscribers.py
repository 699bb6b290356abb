"""Removes the data of groups that stop sharing with their club."""

from uuid import UUID

from apps.events.models import Event
from apps.events.subscriptions import subscribe
from apps.outcomes.services import sharing_end


@subscribe("group.sharing_ended")
def sharing_ended(event: Event) -> None:
    sharing_end(group_id=event.group, club_id=UUID(event.facts["club"]))
