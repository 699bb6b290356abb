"""Deletes old events and messages."""

from django.conf import settings
from django.db.models import Max
from django.utils import timezone

from apps.events.models import Delivery, Event, EventSequence


def events_prune() -> int:
    """Delete old events. Returns how many.

    One run marks events as no longer kept, the next run deletes them. A reader checks the mark
    before reading events, so none disappears unnoticed.
    """
    deleted = 0
    for sequence in EventSequence.objects.filter(pruned__gt=0):
        old = Event.objects.filter(group=sequence.group, number__lte=sequence.pruned)
        deleted += old.delete()[0]
    oldest_kept = timezone.now() - settings.CHANGES_KEPT
    outdated = Event.objects.filter(created_at__lt=oldest_kept).order_by()
    for row in outdated.values("group").annotate(newest=Max("number")):
        kept = EventSequence.objects.filter(group=row["group"], pruned__lt=row["newest"])
        kept.update(pruned=row["newest"])
    return deleted


def deliveries_prune() -> int:
    """Delete delivered and failed messages as old as deleted events."""
    old = Delivery.objects.exclude(state=Delivery.State.WAITING).filter(
        created_at__lt=timezone.now() - settings.CHANGES_KEPT
    )
    return old.delete()[0]
