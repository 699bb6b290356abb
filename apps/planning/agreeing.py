"""Stops of a plan become visits: planned ones of their boats, which the plan keeps from then on."""

import uuid
from collections.abc import Sequence

from django.db import transaction

from apps.accounts.models import Person
from apps.exchange.errors import Conflict, FieldFault, require_no_faults
from apps.groups.selectors import live_members
from apps.planning.models import Trip, TripBoat, TripStop
from apps.planning.selectors import stop_of
from apps.planning.services import require_planner
from apps.planning.telling import tell
from apps.viewings.models import Viewing
from apps.viewings.services import viewing_add


@transaction.atomic
def stops_agree(
    *, trip: Trip, by: Person, candidates: Sequence[uuid.UUID] | None = None
) -> list[Viewing]:
    """Visits for the stops at these boats, or for all; those that have one keep it.

    Raises `Conflict` while the plan may still be another one, and whatever refuses a visit.
    """
    require_planner(by, trip)
    locked = Trip.objects.select_for_update(no_key=True).get(pk=trip.pk)
    if locked.outcome != Trip.Outcome.PLANNED or locked.stale:
        raise Conflict("no_plan_yet", "There is no plan, or it is being worked out anew.")
    boats = {boat.candidate_id: boat for boat in trip.boats.all() if stop_of(boat) is not None}
    require_no_faults(
        [
            FieldFault(f"/boats/{n}", "not_in_the_plan", "The plan has no stop at this boat.")
            for n, candidate in enumerate(candidates or ())
            if candidate not in boats
        ]
    )
    chosen = [boats[one] for one in dict.fromkeys(candidates)] if candidates else boats.values()
    made = [_agree(boat, boat.stop, by) for boat in chosen if boat.stop.viewing_id is None]
    if made:
        # Calendars show from now on that these are agreed.
        locked.sequence += 1
        locked.save_changes(fields=["sequence"])
        tell(
            "trip.stops_agreed",
            locked,
            by,
            sequence=locked.sequence,
            candidates=sorted(str(viewing.candidate_id) for viewing in made),
        )
    return made


def _agree(boat: TripBoat, stop: TripStop, by: Person) -> Viewing:
    candidate = boat.candidate
    going = [person.pk for person in stop.party.people.all()]
    members = live_members(candidate.list.group_id).filter(person__in=going)
    viewing = viewing_add(
        candidate=candidate,
        by=by,
        starts_at=stop.starts_at,
        people=members.order_by("pk").values_list("person_id", flat=True),
    )
    TripStop.objects.filter(pk=stop.pk).update(viewing=viewing)
    return viewing
