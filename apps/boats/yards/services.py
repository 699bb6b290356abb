"""Changes to yards: a club's by its secretary and advisers, a group's by its buyers."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import transaction

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.revisions import inputs_changed
from apps.boats.yards.models import Yard
from apps.common.services import record_create
from apps.events.services import event_record
from apps.groups.models import Group
from apps.groups.rules import Action, ClubAction, require, require_in_club


@transaction.atomic
def yard_add(
    *,
    by: Person,
    facts: Mapping[str, Any],
    club_id: uuid.UUID | None = None,
    group_id: uuid.UUID | None = None,
    id: uuid.UUID | None = None,
) -> Yard:
    """A new yard of the club or the group that is given."""
    yard = Yard(club_id=club_id, group_id=group_id, **facts)
    require_keeper(by, yard)
    record_create(yard, id)
    yard_event_record(yard, by, "yard.added")
    return yard


@transaction.atomic
def yard_change(*, yard: Yard, by: Person, facts: Mapping[str, Any], expected_version: int) -> Yard:
    require_keeper(by, yard)
    for field, value in facts.items():
        setattr(yard, field, value)
    yard.save_changes(expected_version=expected_version, fields=list(facts))
    yard_event_record(yard, by, "yard.changed", fields=sorted(facts))
    return yard


@transaction.atomic
def yard_remove(*, yard: Yard, by: Person, expected_version: int) -> None:
    """Delete a yard. Boats there keep its name and position as their own."""
    require_keeper(by, yard)
    yard.save_changes(
        expected_version=expected_version, fields=[]
    )  # raises `Stale` if it has changed
    boats = Candidate.objects.filter(at_yard=yard).select_related("list").order_by("list", "pk")
    for candidate in boats.select_for_update(of=("self",), no_key=True):
        _leave(candidate, yard, by)
    yard_event_record(yard, by, "yard.removed", deleted=True)
    yard.delete()


def _leave(candidate: Candidate, yard: Yard, by: Person) -> None:
    candidate.at_yard = None
    candidate.yard = candidate.yard or yard.name
    if candidate.latitude is None:
        candidate.latitude, candidate.longitude = yard.place
    candidate.save_changes(fields=["at_yard", "yard", "latitude", "longitude"])
    inputs_changed(candidate.list_id)
    _record_boat_event(candidate, by, ["at_yard", "latitude", "longitude"])


def _record_boat_event(candidate: Candidate, by: Person, fields: list[str]) -> None:
    event_record(
        group_id=candidate.list.group_id,
        kind="candidate.changed",
        thing="candidate",
        thing_id=candidate.pk,
        thing_version=candidate.version,
        by_id=by.pk,
        facts={"list": str(candidate.list_id), "fields": fields},
    )


# --- A group leaves its club ---------------------------------------------------------------------

OF_A_YARD = ("name", "latitude", "longitude", "time_zone", "opening_hours", "closed_on", "note")


@transaction.atomic
def yards_keep(*, group_id: uuid.UUID, club_id: uuid.UUID, by: Person) -> None:
    """Copy the club's yards where boats of the group lie to the group.

    The copies have all that the group could read: hours, time zone and note. Plans and visits then
    refer to them. If the group has an equal yard already, that one is used. All of the group's
    lists become stale for other reasons too.
    """
    boats = Candidate.objects.filter(list__group=group_id, at_yard__club=club_id)
    lying = list(
        boats.select_related("list", "at_yard")
        .select_for_update(of=("self",), no_key=True)
        .order_by("list", "pk")
    )
    own = {_place_of(yard): yard for yard in Yard.objects.filter(group=group_id).order_by("pk")}
    for candidate in lying:
        given = _place_of(candidate.at_yard)
        if given not in own:
            facts = {name: getattr(candidate.at_yard, name) for name in OF_A_YARD}
            own[given] = record_create(Yard(group_id=group_id, **facts))
            yard_event_record(own[given], by, "yard.added")
        candidate.at_yard = own[given]
        candidate.save_changes(fields=["at_yard"])
        _record_boat_event(candidate, by, ["at_yard"])


def _place_of(yard: Yard | None) -> str:
    return repr([getattr(yard, name) for name in OF_A_YARD])


def require_keeper(by: Person, yard: Yard) -> None:
    if yard.club_id is not None:
        require_in_club(by, ClubAction.KEEP_YARDS, yard.club_id)
    else:
        require(by, Action.ADD, _group_of(yard))


def _group_of(yard: Yard) -> uuid.UUID:
    """The group of a yard without a club: a constraint requires exactly one of the two."""
    assert yard.group_id is not None
    return yard.group_id


def yard_event_record(
    yard: Yard, by: Person, kind: str, *, deleted: bool = False, **facts: Any
) -> None:
    """Each of a club's groups gets an event about the club's yard."""
    of_club = Group.objects.filter(club=yard.club_id).exclude(club=None)
    # In a fixed order: concurrent changes must not deadlock on each other's event sequences.
    groups = sorted(of_club.values_list("pk", flat=True)) if yard.club_id else [_group_of(yard)]
    for group_id in groups:
        event_record(
            group_id=group_id,
            kind=kind,
            thing="yard",
            thing_id=yard.pk,
            thing_version=yard.version,
            by_id=by.pk,
            deleted=deleted,
            facts=facts,
        )
