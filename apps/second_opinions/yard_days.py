"""Services of yard days: announce a visit to a yard, so that others can ask for a boat there.

A day shows the place, the date and the room for boats; the group and the person only with
`says_who`, and never the boat. A group announces single visits, or all by its setting.
"""

import uuid
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.db.models import Count, Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import Conflict, Invalid, NotVisible, Stale
from apps.common.services import record_create
from apps.groups.models import Group
from apps.groups.rules import Action, ClubAction, require, require_in_club, visible_groups
from apps.groups.selectors import group_locked, live_members
from apps.second_opinions.access import GOING, memberships
from apps.second_opinions.asking import live_assignment_of, second_opinion_ask
from apps.second_opinions.ending import assignment_end
from apps.second_opinions.models import (
    Assignment,
    GroupOpinionSettings,
    SecondOpinionRequest,
    Step,
    YardDay,
)
from apps.second_opinions.places import same_yard
from apps.second_opinions.settings import settings_store
from apps.second_opinions.steps import step_note
from apps.viewings.event_records import record_event
from apps.viewings.models import Viewing

GROUP = "viewing__candidate__list__group"  # of a yard day


# --- Opening and closing, by the group that goes -------------------------------------------------


@transaction.atomic
def yard_day_open(
    *,
    viewing: Viewing,
    by: Person,
    expected_version: int | None,
    room: int = 1,
    says_who: bool = False,
) -> YardDay:
    """Announce one planned visit, or change the announcement. For people who go or plan it.

    expected_version: None for a new one. Raises `Conflict` without a club, for a visit that is not
    in the future or a boat without a place; `Stale` if somebody announced it meanwhile.
    """
    require(by, Action.PLAN, viewing.candidate.list.group_id)
    _require_can_open(viewing, group_locked(viewing.candidate.list.group_id))
    day = _locked(viewing=viewing)
    if day is None:
        day = YardDay(viewing=viewing, room=room, says_who=says_who, opened_by=by)
        _create(day)
        record_event("yard_day.opened", day, viewing.candidate, by, viewing=str(viewing.pk))
        return day
    if day.closed_at is None and expected_version is None:
        raise Stale
    kind = "changed" if day.closed_at is None else "opened"
    day.room, day.says_who, day.opened_by = room, says_who, by
    day.closed_at, day.by_setting = None, False
    day.save_changes(
        expected_version=expected_version,
        fields=["room", "says_who", "opened_by", "closed_at", "by_setting"],
    )
    record_event(f"yard_day.{kind}", day, viewing.candidate, by, viewing=str(viewing.pk))
    return day


def _create(day: YardDay) -> None:
    try:
        record_create(day)
    except IntegrityError as error:  # a visit has one announcement
        raise Stale from error


def _locked(**which: Any) -> YardDay | None:
    """The row that every change of a day and its requests locks first."""
    return YardDay.objects.select_for_update(of=("self",), no_key=True).filter(**which).first()


def _require_can_open(viewing: Viewing, group: Group) -> None:
    if group.club_id is None:
        raise Conflict("no_club", "The group belongs to no club.")
    if not is_to_come(viewing):
        raise Conflict(
            "not_to_come", "Only a planned, future visit can be announced, no sea trial."
        )
    if viewing.candidate.position is None:
        raise Conflict("nowhere", "Say first where the boat lies: its yard or a place.")


def is_to_come(viewing: Viewing) -> bool:
    """Whether somebody will be in the yard: a sea trial leaves it."""
    if viewing.is_sea_trial:
        return False
    return viewing.state == Viewing.State.PLANNED and viewing.starts_at > timezone.now()


@transaction.atomic
def yard_day_close(*, day: YardDay, by: Person, expected_version: int) -> None:
    """Close the announcement. Waiting requests are declined; taken ones continue."""
    require(by, Action.PLAN, day.viewing.candidate.list.group_id)
    if day.closed_at is not None:
        raise Conflict("closed_already", "It is closed already.")
    _close(day, by, expected_version=expected_version)


def _close(day: YardDay, by: Person | None, *, expected_version: int | None = None) -> None:
    _locked(pk=day.pk)
    waiting = SecondOpinionRequest.objects.filter(
        yard_day=day, state=SecondOpinionRequest.State.WAITING
    )
    for request in _whole(waiting):
        request.state = SecondOpinionRequest.State.DECLINED
        request.save_changes(fields=["state"])
        step_note(request, Step.Kind.DECLINED, by=by)
    day.closed_at = timezone.now()
    day.save_changes(expected_version=expected_version, fields=["closed_at"])
    viewing = day.viewing
    record_event(
        "yard_day.closed", day, viewing.candidate, by, deleted=True, viewing=str(viewing.pk)
    )


def yard_day_falls_out(day: YardDay) -> None:
    """End all requests and assignments of the day, because nobody goes."""
    if day.closed_at is None:
        _close(day, None)
    taken = SecondOpinionRequest.objects.filter(
        yard_day=day, state=SecondOpinionRequest.State.TAKEN
    )
    for request in _whole(taken):
        assignment = live_assignment_of(request)
        request.state = SecondOpinionRequest.State.DECLINED
        request.save_changes(fields=["state"])
        if assignment is not None:
            assignment_end(assignment, Assignment.Ending.LAPSED)
        step_note(
            request, Step.Kind.LAPSED, by=None, whom=assignment.person if assignment else None
        )


def yard_days_of_group_fall_out(group_id: uuid.UUID) -> None:
    """End all yard days of a group that has left its club."""
    open_ones = Q(closed_at=None) | Q(requests__state__in=SecondOpinionRequest.OPEN)
    days = YardDay.objects.filter(open_ones, **{GROUP: group_id}).distinct().order_by("pk")
    for day in days.select_related("viewing__candidate__list"):
        yard_day_falls_out(day)


def yard_days_without_anybody_fall_out(group_id: uuid.UUID) -> None:
    """End future days on which nobody of the group who may still goes."""
    going = set(live_members(group_id).filter(role__in=GOING).values_list("person_id", flat=True))
    for day in _open().filter(**{GROUP: group_id}).order_by("pk"):
        if not any(person.pk in going for person in who_goes(day.viewing)):
            yard_day_falls_out(day)


def _whole(requests: QuerySet[SecondOpinionRequest]) -> QuerySet[SecondOpinionRequest]:
    related = ("candidate__list", "yard_day")
    return requests.select_related(*related).select_for_update(of=("self",), no_key=True)


# --- By the group's setting ----------------------------------------------------------------------


@transaction.atomic
def group_opinion_settings_set(
    *,
    opinion_settings: GroupOpinionSettings,
    by: Person,
    expected_version: int,
    opens_yard_days: bool,
) -> GroupOpinionSettings:
    """Set whether every planned visit is announced; switching off closes those announced so."""
    require(by, Action.MANAGE, opinion_settings.group_id)
    if opens_yard_days and group_locked(opinion_settings.group_id).club_id is None:
        raise Invalid.at("/opens_yard_days", "no_club", "The group belongs to no club.")
    settings_store(opinion_settings, expected_version, {"opens_yard_days": opens_yard_days})
    if opens_yard_days:
        planned = Viewing.objects.filter(
            candidate__list__group=opinion_settings.group_id,
            state=Viewing.State.PLANNED,
            starts_at__gt=timezone.now(),
        )
        for viewing in planned.select_related("candidate__list", "candidate__at_yard"):
            yard_day_open_by_setting(viewing)
    else:
        for day in YardDay.objects.filter(
            by_setting=True, closed_at=None, **{GROUP: opinion_settings.group_id}
        ).select_related("viewing__candidate__list"):
            _close(day, by)
    return opinion_settings


def yard_day_open_by_setting(viewing: Viewing) -> None:
    """Announce a visit by the group's setting: room for one, no `says_who`, no outsider's visit."""
    group = viewing.candidate.list.group_id
    outsider = not live_members(group).filter(person=viewing.added_by_id).exists()
    open_already = YardDay.objects.filter(viewing=viewing).exists()
    if outsider or open_already or viewing.candidate.position is None or not is_to_come(viewing):
        return
    day = YardDay(viewing=viewing, by_setting=True)
    day.save(force_insert=True)
    record_event("yard_day.opened", day, viewing.candidate, None, viewing=str(viewing.pk))


# --- What others of the club see -----------------------------------------------------------------


def open_days(
    person: Person, club_id: uuid.UUID, *, since: date | None = None, until: date | None = None
) -> QuerySet[YardDay]:
    """The future days of other groups of a club that the person belongs to."""
    require_in_club(person, ClubAction.READ, club_id)
    days = _of_others(person).filter(**{f"{GROUP}__club": club_id})
    if since:
        days = days.filter(viewing__starts_at__date__gte=since)
    return days.filter(viewing__starts_at__date__lte=until) if until else days


def _of_others(person: Person) -> QuerySet[YardDay]:
    return _open().exclude(**{f"{GROUP}__in": memberships(person).values("group")})


def _open() -> QuerySet[YardDay]:
    return (
        YardDay.objects.filter(
            closed_at=None,
            viewing__state=Viewing.State.PLANNED,
            viewing__starts_at__gt=timezone.now(),
        )
        .select_related("viewing__candidate__at_yard", f"{GROUP}", "viewing__added_by")
        .prefetch_related(Prefetch("viewing__people", Person.objects.order_by("pk")))
        .annotate(
            taken=Count(
                "requests",
                filter=Q(
                    requests__state__in=(
                        SecondOpinionRequest.State.TAKEN,
                        SecondOpinionRequest.State.ANSWERED,
                    )
                ),
            )
        )
    )


def open_day_for(person: Person, yard_day_id: uuid.UUID) -> YardDay:
    """A future day of another group of a club that the person belongs to, or 404."""
    clubs = person.club_memberships.filter(ended_at=None).values("club")
    days = _of_others(person).filter(**{f"{GROUP}__club__in": clubs})
    return get_object_or_404(days, pk=yard_day_id)


def who_goes(viewing: Viewing) -> list[Person]:
    """The people named for the visit, or else the person who added it."""
    return list(viewing.people.all()) or [viewing.added_by]


def own_day_of(viewing: Viewing) -> YardDay | None:
    return YardDay.objects.filter(viewing=viewing, closed_at=None).first()


def own_day_for(person: Person, viewing_id: uuid.UUID) -> YardDay:
    """The announcement of a visit of the reader's group, or 404."""
    days = YardDay.objects.select_related("viewing__candidate__list", "opened_by")
    return get_object_or_404(
        days.filter(**{f"{GROUP}__in": visible_groups(person)}, closed_at=None), viewing=viewing_id
    )


def day_on(viewing: Viewing) -> date:
    """The visit's date by the yard's clock, or else in UTC."""
    yard = viewing.candidate.at_yard
    try:
        return viewing.starts_at.astimezone(ZoneInfo(yard.time_zone if yard else "UTC")).date()
    except OverflowError:  # on the last day of the year 9999
        return viewing.starts_at.date()


@transaction.atomic
def second_opinion_ask_on_day(
    *,
    day: YardDay,
    candidate: Candidate,
    by: Person,
    question: str,
    checkpoints: list[str] | None = None,
    id: uuid.UUID | None = None,
) -> SecondOpinionRequest:
    """Ask the person who goes there to look at another boat there. Raises `Invalid` at /candidate
    if she lies elsewhere or belongs to a group of another club, `NotVisible` if the day was closed
    meanwhile, and otherwise like `second_opinion_ask`."""
    if _locked(pk=day.pk, closed_at=None) is None:
        raise NotVisible
    club_id = day.viewing.candidate.list.group.club_id
    if candidate.list.group.club_id != club_id:
        raise Invalid.at("/candidate", "another_club", "Her group belongs to another club.")
    if not lies_there(candidate, day.viewing.candidate):
        raise Invalid.at("/candidate", "elsewhere", "She does not lie where they go.")
    return second_opinion_ask(
        candidate=candidate,
        by=by,
        question=question,
        checkpoints=checkpoints or [],
        wanted_by=day_on(day.viewing),
        yard_day=day,
        id=id,
    )


def lies_there(candidate: Candidate, other: Candidate) -> bool:
    """Whether both boats lie in the same yard of the club, or very close."""
    if candidate.at_yard_id is not None and candidate.at_yard_id == other.at_yard_id:
        return True
    here, there = candidate.position, other.position
    return here is not None and there is not None and same_yard(here, there)
