"""Deletes old notifications and digests, and those of a person who leaves."""

from django.conf import settings
from django.db.models import Q
from django.utils import timezone

from apps.accounts.models import Person
from apps.notifications.models import DigestEmail, GroupChoice, Inbox, Notification
from apps.notifications.types import NotificationKind


def notifications_prune() -> int:
    """Delete settled notifications and changes when their events are deleted.

    Those that still wait or are in dispute stay, because they would be made again.
    """
    oldest_kept = timezone.now() - settings.CHANGES_KEPT
    over = Q(settled_at__lt=oldest_kept) | Q(kind=NotificationKind.CHANGED)
    return Notification.objects.filter(over, added_at__lt=oldest_kept).delete()[0]


def digests_prune() -> int:
    """Delete ended digests; they contain no text, and their notifications stay."""
    old = DigestEmail.objects.filter(ended_at__lt=timezone.now() - settings.CHANGES_KEPT)
    return old.filter(notifications=None).delete()[0]


def inbox_erase(person: Person) -> None:
    """Delete the notifications of a person who leaves for good."""
    for model in (Notification, DigestEmail, GroupChoice, Inbox):
        model._base_manager.filter(person=person).delete()
