"""What lists and yards do after events of groups."""

from uuid import UUID

from apps.boats.revisions import groups_inputs_changed
from apps.boats.yards.services import yards_keep
from apps.events.models import Event
from apps.events.subscriptions import subscribe


@subscribe("member.joined", "member.changed", "member.left", "group.shares_set")
@subscribe("program_member.joined", "program_member.changed", "program_member.left")
def members_changed(event: Event) -> None:
    """Buyers and their shares affect every order and every price per buyer."""
    groups_inputs_changed([event.group])


@subscribe("group.club_ends")
def club_ends(event: Event) -> None:
    assert event.by is not None  # a person decided it
    yards_keep(group_id=event.group, club_id=UUID(event.facts["club"]), by=event.by)
