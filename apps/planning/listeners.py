"""What happens elsewhere that plans depend on: a visit called off, a boat struck off, a yard shut.

Whether it changes the plan is for the job to find out: it gathers the problem anew.
"""

from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet
from django.db.models.signals import post_save
from django.dispatch import receiver
from django.utils import timezone

from apps.boats.models import Candidate
from apps.boats.yards.models import Yard
from apps.desk.models import Take
from apps.groups.models import ClubMembership, Membership
from apps.planning.leaving import trips_leave
from apps.planning.messages import trips_touched
from apps.planning.models import Trip
from apps.viewings.models import Viewing


def upcoming() -> QuerySet[Trip]:
    """Trips whose day is not over anywhere."""
    since = timezone.now().date() - timedelta(days=1)
    return Trip.objects.filter(state=Trip.State.PLANNED, day__gte=since)


@receiver(post_save, sender=Viewing)
def viewing_saved(instance: Viewing, created: bool, raw: bool, **_: Any) -> None:
    if not raw and not created:
        _touch(Q(boats__stop__viewing=instance))


@receiver(post_save, sender=Candidate)
def candidate_saved(instance: Candidate, created: bool, raw: bool, **_: Any) -> None:
    if not raw and not created:
        _touch(Q(boats__candidate=instance))


@receiver(post_save, sender=Yard)
def yard_saved(instance: Yard, created: bool, raw: bool, **_: Any) -> None:
    if not raw and not created:
        _touch(Q(boats__candidate__at_yard=instance))


@receiver(post_save, sender=Take)
def take_saved(instance: Take, raw: bool, **_: Any) -> None:
    """What was taken on, or ended, at the desk is on trips of a club's members only."""
    if not raw:
        _touch(Q(group=None, boats__candidate=instance.request.candidate_id))


@receiver(post_save, sender=Membership)
def membership_saved(instance: Membership, created: bool, raw: bool, **_: Any) -> None:
    if raw or created:
        return
    _touch(Q(group=None, boats__candidate__list__group=instance.group_id))
    if instance.ended_at is not None:
        trips_leave(instance.person, upcoming().filter(group=instance.group_id))


@receiver(post_save, sender=ClubMembership)
def club_membership_saved(instance: ClubMembership, raw: bool, **_: Any) -> None:
    if not raw and instance.ended_at is not None:
        with transaction.atomic():
            trips_leave(instance.person, upcoming().filter(club=instance.club_id))


def _touch(those: Q) -> None:
    with transaction.atomic():
        trips_touched(upcoming().filter(those))
