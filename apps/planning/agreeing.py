"""Turn stops of a plan into planned visits, which all later plans keep."""

import uuid
from collections.abc import Mapping, Sequence

from django.db import transaction

from apps.accounts.models import Person
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.groups.rules import visible_groups
from apps.groups.selectors import live_members
from apps.planning.event_records import record_event
from apps.planning.models import Trip, TripBoat, TripStop
from apps.planning.selectors import stop_of, trip_locked
from apps.planning.services import require_planner
from apps.second_opinions.access import live_assignments
from apps.second_opinions.looking import visit_set
from apps.viewings.models import Viewing
from apps.viewings.services import viewing_add


@transaction.atomic
def stops_agree(
    *, trip: Trip, by: Person, candidates: Sequence[uuid.UUID] | None = None
) -> list[Viewing]:
    """Planned visits for the stops at these boats, or for all; a stop that has a visit keeps it.

    Raises `Conflict` while the plan is out of date, and the refusals of a new visit.
    """
    require_planner(by, trip)
    trip = trip_locked(trip)
    if trip.outcome != Trip.Outcome.PLANNED or trip.stale:
        raise Conflict("no_plan_yet", "There is no plan, or it is being computed again.")
    boats = {boat.candidate_id: boat for boat in trip.boats.all() if stop_of(boat) is not None}
    entries = _Entries(by)
    require_no_faults(
        [
            fault
            for n, one in enumerate(candidates or ())
            for fault in _faults(n, one, boats, entries)
        ]
    )
    # If no boats are named, stops at boats that others in the party accepted are left to them.
    chosen = candidates or [one for one, boat in boats.items() if entries.open_to(boat)]
    stops = [boats[one] for one in dict.fromkeys(chosen) if boats[one].stop.viewing_id is None]
    made = [_agree(boat, boat.stop, by, entries) for boat in stops]
    if made:
        # Calendars then show these as agreed.
        trip.sequence += 1
        trip.save_changes(fields=["sequence"])
        record_event(
            "trip.stops_agreed",
            trip,
            by,
            sequence=trip.sequence,
            candidates=sorted(str(viewing.candidate_id) for viewing in made),
        )
    return made


class _Entries:
    """A person's rights to visit boats: as a member of the group, or by an assignment."""

    def __init__(self, person: Person) -> None:
        self.groups = set(visible_groups(person).values_list("pk", flat=True))
        assignments = live_assignments(person).select_related("request", "viewing").order_by("pk")
        self.assignments = {
            assignment.request.candidate_id: assignment for assignment in assignments
        }

    def open_to(self, boat: TripBoat) -> bool:
        return boat.candidate.list.group_id in self.groups or boat.candidate_id in self.assignments


def _faults(
    n: int, candidate: uuid.UUID, boats: Mapping[uuid.UUID, TripBoat], entries: _Entries
) -> list[FieldFault]:
    if candidate not in boats or not entries.open_to(boats[candidate]):
        detail = "The plan has no stop of yours at this boat."
        return [FieldFault(f"/boats/{n}", "not_in_the_plan", detail)]
    return []


def _agree(boat: TripBoat, stop: TripStop, by: Person, entries: _Entries) -> Viewing:
    assignment = entries.assignments.get(boat.candidate_id)
    if boat.candidate.list.group_id in entries.groups or assignment is None:
        viewing = _own_visit(boat, stop, by)
    else:
        viewing = visit_set(
            assignment_id=assignment.pk,
            by=by,
            expected_version=assignment.viewing.version if assignment.viewing else None,
            starts_at=stop.starts_at,
            conditions={},
        )
    TripStop.objects.filter(pk=stop.pk).update(viewing=viewing)
    return viewing


def _own_visit(boat: TripBoat, stop: TripStop, by: Person) -> Viewing:
    going = stop.party.people.all() if stop.party else ()
    members = live_members(boat.candidate.list.group_id).filter(person__in=going)
    return viewing_add(
        candidate=boat.candidate,
        by=by,
        starts_at=stop.starts_at,
        people=members.order_by("pk").values_list("person_id", flat=True),
    )
