"""Decides who may look at a boat of a group that they do not belong to.

Every condition is checked in the database at every request, so access ends at once: by the group,
with the adviser's role, or when the group disables a program. No other module here reads
assignments without this.
"""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts.models import Person
from apps.common.prepared import PreparedRecord
from apps.groups.models import ClubMembership, Membership
from apps.groups.rules import (
    ALLOWED,
    CLUB_ALLOWED,
    Action,
    ClubAction,
    open_to,
    require_in_club,
    uses_program,
)
from apps.second_opinions.models import Assignment, SecondOpinionRequest, YardDay
from apps.viewings.authority import Authority
from apps.viewings.models import Viewing

GROUP = "candidate__list__group"  # of a request
ADVISING = sorted(CLUB_ALLOWED[ClubAction.ADVISE])
GOING = sorted(ALLOWED[Action.SUBMIT])


def memberships(person: Person) -> QuerySet[Membership]:
    return Membership.objects.filter(person=person, ended_at=None)


def requests_of_club(club_id: uuid.UUID) -> QuerySet[SecondOpinionRequest]:
    """All open requests in a club."""
    return SecondOpinionRequest.objects.filter(
        _within_the_club(""),
        _somebody_is_left(""),
        club=club_id,
        yard_day=None,
        state__in=SecondOpinionRequest.OPEN,
    )


def requests_open_to(person: Person) -> QuerySet[SecondOpinionRequest]:
    """Open requests of other groups that the person may know of, as an adviser or because they go
    to the yard. `queue` decides what is shown, and whether the person may take them.
    """
    advises = ClubMembership.objects.filter(
        club=OuterRef("club"), person=person, ended_at=None, role__in=ADVISING
    )
    requests = (
        SecondOpinionRequest.objects.filter(
            Q(Exists(advises), yard_day=None)
            | Q(going(person, "yard_day__viewing"), yard_day__isnull=False),
            state__in=SecondOpinionRequest.OPEN,
        )
        .filter(_within_the_club(""), _somebody_is_left(""))
        .exclude(**{f"{GROUP}__in": memberships(person).values("group")})
    )
    return open_to(person, requests, GROUP)


def going(person: Person, visit: str) -> Q:
    """Whether the person goes on the visit (`visit` is the path to it) for their own group."""
    goes = Viewing.objects.filter(
        Q(people=person) | Q(people=None, added_by=person), pk=OuterRef(visit)
    ).exclude(state=Viewing.State.CALLED_OFF)
    belongs = memberships(person).filter(
        group=OuterRef(f"{visit}__candidate__list__group"), role__in=GOING
    )
    return Q(Exists(goes)) & Q(Exists(belongs))


def _within_the_club(to: str) -> Q:
    return Q(**{f"{to}{GROUP}__club": F(f"{to}club")})


def _somebody_is_left(to: str) -> Q:
    """The group has a member: a group that everybody left cannot consent to anything."""
    left = Membership.objects.filter(
        group=OuterRef(f"{to}{GROUP}"),
        ended_at=None,
        person__kind=Person.Kind.PERSON,
        person__is_active=True,
    )
    return Q(Exists(left))


def live_assignments(person: Person) -> QuerySet[Assignment]:
    """The person's assignments that give access to a boat now."""
    advises = ClubMembership.objects.filter(
        club=OuterRef("request__club"), person=person, ended_at=None, role__in=ADVISING
    )
    assignments = (
        Assignment.objects.filter(
            person=person, ended_at=None, request__state=SecondOpinionRequest.State.TAKEN
        )
        .filter(
            Q(Exists(advises), request__yard_day=None)
            | Q(going(person, "request__yard_day__viewing"), request__yard_day__isnull=False),
        )
        .filter(_within_the_club("request__"), _somebody_is_left("request__"))
        .exclude(**{f"request__{GROUP}__in": memberships(person).values("group")})
    )
    return open_to(person, assignments, f"request__{GROUP}")


_OPENED_WITH = (
    *("person", "viewing", "request", "request__candidate", "request__candidate__list"),
    *("request__candidate__list__group", "request__candidate__at_yard"),
    *("request__asked_by", "request__yard_day"),
)
# Every request about an assignment asks this, and most by no program, which takes a longer query.
_OPENED = PreparedRecord(
    Assignment,
    _OPENED_WITH,
    lambda person_id, id: live_assignments(Person(pk=person_id)).filter(pk=id),
    *(uuid.UUID, uuid.UUID),
)


def assignment_opened(
    person: Person, assignment_id: uuid.UUID, *, lock: bool = False
) -> Assignment:
    """A live assignment and what it gives access to, or 404. One query, two with `lock`.

    lock: the group cannot end the access until the transaction ends.
    """
    if lock:
        request_locked(assignments=assignment_id)
    if uses_program(person):
        live = live_assignments(person).select_related(*_OPENED_WITH)
        return get_object_or_404(live, pk=assignment_id)
    assignment = _OPENED(person.pk, assignment_id)
    if assignment is None:
        raise Http404
    return assignment


def request_locked(**which: Any) -> None:
    """The request's row, which every change of it and of its assignments locks first."""
    SecondOpinionRequest.objects.select_for_update(of=("self",), no_key=True).filter(
        **which
    ).first()


def authority_of(assignment: Assignment) -> Authority:
    """The assignee's authority to act on that boat only."""
    candidate = assignment.request.candidate
    return Authority(candidate.list.group_id, outsider_on=candidate.pk)


def day_now() -> date:
    return timezone.now().date()


def yard_days_of(person: Person) -> QuerySet[YardDay]:
    """The yard days on which the person goes."""
    return YardDay.objects.filter(going(person, "viewing"))


# --- Who gets the stored answer of a request once more -------------------------------------------

Named = Mapping[str, Any]


def still_taken(person: Person, named: Named, answer: Any) -> None:
    """The assignment in the address, or the one that the stored answer names, is live."""
    assignments = live_assignments(person)
    if "assignment_id" in named:
        get_object_or_404(assignments, pk=named["assignment_id"])
    else:
        get_object_or_404(assignments, request=named["request_id"])


def still_asked(person: Person, named: Named, answer: Any) -> None:
    request = get_object_or_404(SecondOpinionRequest, pk=named["request_id"])
    if request.yard_day_id is None:
        require_in_club(person, ClubAction.ADVISE, request.open_within)
    else:
        get_object_or_404(yard_days_of(person), pk=request.yard_day_id)


def still_secretary(person: Person, named: Named, answer: Any) -> None:
    request = get_object_or_404(SecondOpinionRequest, pk=named["request_id"])
    require_in_club(person, ClubAction.MANAGE, request.open_within)
