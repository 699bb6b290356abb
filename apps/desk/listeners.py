"""What happens elsewhere that opens or ends something here, in the same transaction."""

import uuid
from typing import Any

from django.db import transaction
from django.db.models import F, Q
from django.db.models.signals import m2m_changed, post_save
from django.dispatch import receiver

from apps.accounts.models import Person
from apps.desk.access import ADVISING, GOING, request_locked, yard_days_of
from apps.desk.asking import requests_withdraw
from apps.desk.models import GroupDesk, LookRequest, Take, YardDay
from apps.desk.taking import take_lapse
from apps.desk.yard_days import (
    yard_day_falls_out,
    yard_day_open_by_setting,
    yard_days_of_group_fall_out,
    yard_days_without_anybody_fall_out,
)
from apps.groups.models import ClubMembership, Membership
from apps.groups.selectors import live_members
from apps.groups.signals import club_access_ended
from apps.viewings.models import Viewing


@receiver(post_save, sender=ClubMembership)
@transaction.atomic
def club_membership_saved(instance: ClubMembership, raw: bool, **_: Any) -> None:
    """An adviser who is none any more hands everything back, and is asked for nothing."""
    if raw or (instance.ended_at is None and instance.role in ADVISING):
        return
    offered = LookRequest.objects.filter(club=instance.club_id, offered_to=instance.person_id)
    for request in offered.order_by("pk"):
        request.offered_to = None
        request.save_changes(fields=["offered_to"])
    lapse(Q(person=instance.person_id, request__club=instance.club_id, request__yard_day=None))


@receiver(post_save, sender=Membership)
@transaction.atomic
def membership_saved(instance: Membership, raw: bool, **_: Any) -> None:
    """Whoever joins a group sees its boats as a member; whoever leaves, or may only observe from
    now on, does not go for it."""
    if raw:
        return
    person, group = instance.person_id, instance.group_id
    if instance.ended_at is not None or instance.role not in GOING:
        lapse(Q(person=person, request__yard_day__viewing__candidate__list__group=group))
        yard_days_without_anybody_fall_out(group)
    if instance.ended_at is None:
        lapse(Q(person=person, request__candidate__list__group=group))
        return
    people = live_members(group).filter(person__kind=Person.Kind.PERSON, person__is_active=True)
    if people.exists():
        return
    requests_withdraw(Q(candidate__list__group=group), by=None)


@receiver(club_access_ended)
def group_left(group_id: uuid.UUID, by: Person, **_: Any) -> None:
    """Nobody of the club looks at the group's boats, nor the group at others': all of it ends."""
    GroupDesk.objects.filter(group=group_id, opens_yard_days=True).update(
        opens_yard_days=False, version=F("version") + 1
    )
    requests_withdraw(Q(candidate__list__group=group_id), by=by)
    yard_days_of_group_fall_out(group_id)


def lapse(which: Q) -> None:
    live = Take.objects.filter(which, ended_at=None)
    for pk in list(live.order_by("request", "pk").values_list("pk", flat=True)):
        request_locked(takes=pk)
        take = live.select_related(*WHOLE).filter(pk=pk).first()
        if take is not None:  # nobody ended it meanwhile
            take_lapse(take)


WHOLE = ("person", "viewing__candidate__list", "request__candidate__list", "request__yard_day")


@receiver(post_save, sender=Viewing)
@transaction.atomic
def viewing_saved(instance: Viewing, created: bool, raw: bool, **_: Any) -> None:
    """A planned visit may be told of; one that is called off takes others' boats out too."""
    if raw:
        return
    if instance.state == Viewing.State.CALLED_OFF:
        days = YardDay.objects.filter(viewing=instance)
        for day in days.select_related("viewing__candidate__list"):
            yard_day_falls_out(day)
    elif created and instance.state == Viewing.State.PLANNED and opens_all(instance):
        yard_day_open_by_setting(instance)


@receiver(m2m_changed, sender=Viewing.people.through)
@transaction.atomic
def viewing_people_changed(instance: Any, action: str, reverse: bool, **_: Any) -> None:
    """Whoever does not go any more does not look at others' boats there."""
    if reverse or action not in ("post_add", "post_remove", "post_clear"):
        return
    takes = Take.objects.filter(request__yard_day__viewing=instance, ended_at=None)
    for person in Person.objects.filter(takes__in=takes).distinct():
        if not yard_days_of(person).filter(viewing=instance).exists():
            lapse(Q(person=person, request__yard_day__viewing=instance))


def opens_all(viewing: Viewing) -> bool:
    group = viewing.candidate.list.group_id
    return GroupDesk.objects.filter(group=group, opens_yard_days=True).exists()
