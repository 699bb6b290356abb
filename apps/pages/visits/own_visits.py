"""The reader's own visits: for their groups, and to boats that they took on for others."""

from collections.abc import Collection
from datetime import timedelta, tzinfo
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.second_opinions.assigned import visits_of
from apps.second_opinions.models import Assignment
from apps.viewings.models import Viewing
from apps.viewings.selectors import viewing_for, viewings_visible

# A visit that began this morning is still the next one in the afternoon.
LONGEST_VISIT = timedelta(hours=12)


class OwnVisit(NamedTuple):
    """taken: the assignment by which the reader visits a boat of another group."""

    visit: Viewing
    taken: Assignment | None = None

    @property
    def at(self) -> str:
        """The page of the visit."""
        if self.taken:
            return f"/second-opinions/{self.taken.request_id}"
        return f"/visits/{self.visit.pk}"


def own_visit(person: Person, viewing_id: UUID) -> OwnVisit:
    """A visit that the reader may see, or 404."""
    outside = visits_of(person).filter(pk=viewing_id).first()
    if outside is not None:
        return OwnVisit(outside, outside.assignment)
    return OwnVisit(viewing_for(person, viewing_id))


def day_of(person: Person, viewing_id: UUID) -> list[OwnVisit]:
    """The visit, and then the others that the reader goes on that day.

    The day is that of the yard where it is known; the reader may be in another zone just now.
    """
    asked = own_visit(person, viewing_id)
    local = asked.visit.starts_at.astimezone(zone_of(asked.visit))
    begins = local.replace(hour=0, minute=0, second=0, microsecond=0)
    day = Q(starts_at__gte=begins, starts_at__lt=begins + timedelta(days=1))
    others = own_visits(person, day & ~Q(pk=viewing_id) & ~Q(state=Viewing.State.CALLED_OFF))
    return [asked, *others]


def next_visit(person: Person) -> OwnVisit | None:
    """The next planned visit that the reader goes on."""
    ahead = Q(starts_at__gt=timezone.now() - LONGEST_VISIT, state=Viewing.State.PLANNED)
    return next(iter(own_visits(person, ahead)), None)


def own_visits_of(person: Person, ids: Collection[UUID]) -> dict[UUID, OwnVisit]:
    """Those of these visits that the reader goes on, by id. Four queries."""
    return {one.visit.pk: one for one in own_visits(person, Q(pk__in=ids))}


def own_visits(person: Person, which: Q) -> list[OwnVisit]:
    """Those of these that the reader goes on, the earliest first. Four queries."""
    members = viewings_visible(person).filter(which, people=person)
    found = [
        *map(OwnVisit, members.select_related("candidate__at_yard").distinct()),
        *(OwnVisit(one, one.assignment) for one in visits_of(person).filter(which)),
    ]
    return sorted(found, key=lambda one: (one.visit.starts_at, one.visit.pk))


def zone_of(visit: Viewing | None) -> tzinfo:
    """Where the boat lies, if that is known; else the reader's own."""
    return timezone.get_current_timezone() if visit is None else zone_at(visit.candidate)


def zone_at(boat: Candidate) -> tzinfo:
    yard = boat.at_yard
    return timezone.get_current_timezone() if yard is None else ZoneInfo(yard.time_zone)
