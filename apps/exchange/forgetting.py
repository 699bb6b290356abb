"""What is not kept for ever: answers to repeats, events of the change feed, messages sent."""

from datetime import timedelta

from django.conf import settings
from django.db.models import Max
from django.utils import timezone

from apps.exchange.models import Delivery, Event, GroupClock, RememberedAnswer

ANSWERS_KEPT = timedelta(hours=48)  # clients are promised 24


def answers_forget() -> int:
    old = RememberedAnswer.objects.filter(created_at__lt=timezone.now() - ANSWERS_KEPT)
    return old.delete()[0]


def events_forget() -> int:
    """Forget old events. Returns how many were deleted.

    They are announced as forgotten at one time and deleted at the next: a reader who looked at
    the announcements before reading the events misses none without being told.
    """
    deleted = 0
    for clock in GroupClock.objects.filter(forgotten__gt=0):
        old = Event.objects.filter(group=clock.group, number__lte=clock.forgotten)
        deleted += old.delete()[0]
    oldest_kept = timezone.now() - settings.CHANGES_KEPT
    outdated = Event.objects.filter(created_at__lt=oldest_kept).order_by()
    for row in outdated.values("group").annotate(newest=Max("number")):
        kept = GroupClock.objects.filter(group=row["group"], forgotten__lt=row["newest"])
        kept.update(forgotten=row["newest"])
    return deleted


def deliveries_forget() -> int:
    """Delivered or failed, they are kept as long as the events they tell of."""
    old = Delivery.objects.exclude(state=Delivery.State.WAITING).filter(
        created_at__lt=timezone.now() - settings.CHANGES_KEPT
    )
    return old.delete()[0]
