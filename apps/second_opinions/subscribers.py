"""Starts and ends announcements and access after events of other apps."""

from django.db.models import F, Q

from apps.accounts.models import Person
from apps.events.models import Event
from apps.events.subscriptions import subscribe
from apps.groups.models import ClubMembership, Membership
from apps.groups.selectors import live_members
from apps.second_opinions.access import ADVISING, GOING, request_locked, yard_days_of
from apps.second_opinions.asking import requests_withdraw
from apps.second_opinions.assigning import assignment_lapse
from apps.second_opinions.models import (
    Assignment,
    GroupOpinionSettings,
    SecondOpinionRequest,
    YardDay,
)
from apps.second_opinions.yard_days import (
    yard_day_falls_out,
    yard_day_open_by_setting,
    yard_days_of_group_fall_out,
    yard_days_without_anybody_fall_out,
)
from apps.viewings.models import Viewing


@subscribe("club_member.changed", "club_member.left")
def club_member_changed(event: Event) -> None:
    """End the assignments and offers of somebody who is no longer an adviser."""
    member = ClubMembership.objects.get(pk=event.thing_id)
    if member.ended_at is None and member.role in ADVISING:
        return
    offered = SecondOpinionRequest.objects.filter(club=member.club_id, offered_to=member.person_id)
    for request in offered.order_by("pk"):
        request.offered_to = None
        request.save_changes(fields=["offered_to"])
    lapse(Q(person=member.person_id, request__club=member.club_id, request__yard_day=None))


@subscribe("member.joined", "member.changed", "member.left")
@subscribe("program_member.joined", "program_member.changed", "program_member.left")
def member_changed(event: Event) -> None:
    """End what a changed membership ends: new members see the boats as members, and people who left
    or only observe no longer go for the group."""
    member = Membership.objects.get(pk=event.thing_id)
    person, group = member.person_id, member.group_id
    if member.ended_at is not None or member.role not in GOING:
        lapse(Q(person=person, request__yard_day__viewing__candidate__list__group=group))
        yard_days_without_anybody_fall_out(group)
    if member.ended_at is None:
        lapse(Q(person=person, request__candidate__list__group=group))
        return
    people = live_members(group).filter(person__kind=Person.Kind.PERSON, person__is_active=True)
    if people.exists():
        return
    requests_withdraw(Q(candidate__list__group=group), by=None)


@subscribe("group.club_access_ends")
def club_access_ends(event: Event) -> None:
    """End all access between the club and the group, in both directions."""
    GroupOpinionSettings.objects.filter(group=event.group, opens_yard_days=True).update(
        opens_yard_days=False, version=F("version") + 1
    )
    requests_withdraw(Q(candidate__list__group=event.group), by=event.by)
    yard_days_of_group_fall_out(event.group)


@subscribe("viewing.added")
def viewing_added(event: Event) -> None:
    """Announce a planned visit if the group's setting says so."""
    settings = GroupOpinionSettings.objects.filter(group=event.group, opens_yard_days=True)
    viewing = Viewing.objects.filter(pk=event.thing_id, state=Viewing.State.PLANNED)
    if settings.exists():
        for planned in viewing.select_related("candidate__list", "candidate__at_yard"):
            yard_day_open_by_setting(planned)


@subscribe("viewing.changed")
def viewing_changed(event: Event) -> None:
    """End others' requests for a visit that was called off, and the assignments of people who no
    longer go."""
    days = YardDay.objects.filter(viewing=event.thing_id)
    for day in days.filter(viewing__state=Viewing.State.CALLED_OFF).select_related(
        "viewing__candidate__list"
    ):
        yard_day_falls_out(day)
    assignments = Assignment.objects.filter(
        request__yard_day__viewing=event.thing_id, ended_at=None
    )
    for person in Person.objects.filter(assignments__in=assignments).distinct():
        if not yard_days_of(person).filter(viewing=event.thing_id).exists():
            lapse(Q(person=person, request__yard_day__viewing=event.thing_id))


def lapse(which: Q) -> None:
    live = Assignment.objects.filter(which, ended_at=None)
    for pk in list(live.order_by("request", "pk").values_list("pk", flat=True)):
        request_locked(assignments=pk)
        assignment = live.select_related(*WHOLE).filter(pk=pk).first()
        if assignment is not None:  # not ended meanwhile
            assignment_lapse(assignment)


WHOLE = ("person", "viewing__candidate__list", "request__candidate__list", "request__yard_day")
