"""Record events of a trip: for its group, or for the club member whose trip it is."""

from typing import Any

from apps.accounts.models import Person
from apps.events.services import event_record
from apps.groups.models import Membership
from apps.planning.models import Trip


def record_event(kind: str, trip: Trip, by: Person | None, **facts: Any) -> None:
    """Record the event; last in its transaction. by: None for a job.

    A club has no feed. Events of a club member's trip go to that person alone, in the feed of one
    of their groups, if they have one.
    """
    group_id, only_for = trip.group_id, None
    if group_id is None:
        own = Membership.objects.filter(person=trip.made_by_id, ended_at=None)
        group_id = own.order_by("pk").values_list("group_id", flat=True).first()
        only_for = trip.made_by_id
    if group_id is None:
        return
    event_record(
        group_id=group_id,
        kind=kind,
        thing="trip",
        thing_id=trip.pk,
        thing_version=trip.version,
        by_id=by.pk if by else None,
        only_for=only_for,
        facts={"day": str(trip.day), **facts},
    )
