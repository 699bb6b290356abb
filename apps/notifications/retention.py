"""What is not kept for ever, and what goes with a person."""

from django.conf import settings
from django.db.models import Q
from django.utils import timezone

from apps.accounts.models import Person
from apps.notifications.models import DigestEmail, GroupChoice, Inbox, Notification
from apps.notifications.types import NotificationKind


def notifications_prune() -> int:
    """Those that ceased, and changes, are kept as long as the events they tell of.

    What still waits, or is still in dispute, is kept: it would be told again.
    """
    oldest_kept = timezone.now() - settings.CHANGES_KEPT
    over = Q(settled_at__lt=oldest_kept) | Q(kind=NotificationKind.CHANGED)
    return Notification.objects.filter(over, added_at__lt=oldest_kept).delete()[0]


def digests_prune() -> int:
    """Digests hold no text; of those that ended, the notifications in them outlive them."""
    old = DigestEmail.objects.filter(ended_at__lt=timezone.now() - settings.CHANGES_KEPT)
    return old.filter(notifications=None).delete()[0]


def inbox_erase(person: Person) -> None:
    """Nothing is told to who leaves for good, and nothing of it is kept."""
    for model in (Notification, DigestEmail, GroupChoice, Inbox):
        model._base_manager.filter(person=person).delete()
