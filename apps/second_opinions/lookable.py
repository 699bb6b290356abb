"""The boats that a person may look at: those of their own groups, and those they took for others of
their club. Trips are planned from them."""

import uuid
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from apps.accounts.models import Person
from apps.appraisal.looks.look_values import LookValue, look_values
from apps.boats.models import Candidate
from apps.boats.vocabulary import SETTLED
from apps.boats.yards.models import Yard
from apps.groups.rules import visible_groups
from apps.second_opinions.access import live_assignments
from apps.second_opinions.models import Assignment
from apps.second_opinions.places import Place


@dataclass(frozen=True)
class Lookable:
    """One boat to plan with. `assignment`: for another group's request; None: one's own boat.

    For an assigned boat a plan may show only what the assignment shows: her name and place.
    """

    candidate_id: uuid.UUID
    assignment: Assignment | None
    place: Place | None
    yard: Yard | None
    value: LookValue | None
    wanted_by: date | None


def boats_open_to(person: Person) -> QuerySet[Candidate]:
    """The boats that the person may look at now."""
    return Candidate.objects.filter(
        Q(list__group__in=visible_groups(person))
        | Q(pk__in=live_assignments(person).values("request__candidate"))
    )


def lookable_on(person: Person, day: date) -> list[Lookable]:
    """The boats to look at on a day, without settled ones and requests wanted before it.

    Three queries.
    """
    assignments = {
        assignment.request.candidate_id: assignment
        for assignment in live_assignments(person).select_related("request").order_by("pk")
        if assignment.request.wanted_by is None or assignment.request.wanted_by >= day
    }
    boats = (
        Candidate.objects.filter(Q(list__group__in=visible_groups(person)) | Q(pk__in=assignments))
        .exclude(stage__in=SETTLED)
        .select_related("at_yard")
        .order_by("pk")
    )
    found = list(boats)
    values = look_values([boat.pk for boat in found])
    return [
        Lookable(
            candidate_id=boat.pk,
            assignment=assignments.get(boat.pk),
            place=boat.position,
            yard=boat.at_yard,
            value=values.get(boat.pk),
            wanted_by=assignments[boat.pk].request.wanted_by if boat.pk in assignments else None,
        )
        for boat in found
    ]
