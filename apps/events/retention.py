"""Deletes old events and messages, and voids cursors of a lost database."""

from django.conf import settings
from django.db.models import F, Max
from django.utils import timezone

from apps.events.models import Delivery, Event, EventSequence

# More than the events that a group can have had between a backup and the loss of the database.
VOIDED = 1_000_000_000


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


def cursors_void() -> None:
    """After restoring a backup, refuse cursors of the lost time.

    Their numbers would otherwise be given again to other events, and a reader would miss those.
    """
    EventSequence.objects.update(
        void_after=F("last"), void_until=F("last") + VOIDED, last=F("last") + VOIDED
    )
