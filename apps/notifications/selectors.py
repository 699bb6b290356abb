"""Reads of the reader's own notifications, from groups and clubs that they belong to."""

import uuid
from typing import Any

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.groups.rules import membership_of, visible_clubs, visible_groups
from apps.notifications.models import UNSEEN, GroupChoice, Inbox, Notification
from apps.notifications.types import opened_by


def notifications_visible(person: Person) -> QuerySet[Notification]:
    """The reader's notifications; with a limited token only those about records it may read.

    Requests to a club come from other groups, so their notifications are hidden once settled.
    """
    notifications = Notification.objects.filter(
        Q(group__in=visible_groups(person))
        | Q(club__in=visible_clubs(person), settled_at__isnull=True),
        person=person,
        in_inbox=True,
    ).select_related("group", "club", "list", "candidate")
    opened = opened_by(person.via)
    return notifications if opened is None else notifications.filter(type__in=opened)


def notifications_of(
    person: Person,
    *,
    kind: str | None = None,
    group: uuid.UUID | None = None,
    read: bool | None = None,
    open: bool = True,
) -> QuerySet[Notification]:
    """open: True for notifications that are not done and still apply, False for the others."""
    notifications = notifications_visible(person)
    if kind:
        notifications = notifications.filter(kind=kind)
    if group:
        notifications = notifications.filter(group=group)
    if read is not None:
        notifications = notifications.filter(read_at__isnull=not read)
    over = Q(done_at__isnull=False) | Q(settled_at__isnull=False)
    return notifications.exclude(over) if open else notifications.filter(over)


def notification_for(person: Person, notification_id: uuid.UUID) -> Notification:
    return get_object_or_404(notifications_visible(person), pk=notification_id)


def unread_count(person: Person) -> int:
    return notifications_visible(person).filter(UNSEEN).count()


def inbox_of(person: Person) -> Inbox:
    """The stored inbox, or one with the default settings."""
    found = Inbox.objects.filter(pk=person.pk).first()
    return found or Inbox(id=person.pk, person=person)


def choice_for(person: Person, group_id: uuid.UUID) -> GroupChoice:
    """The same for the settings of one group."""
    membership_of(person, group_id)
    found = GroupChoice.objects.filter(person=person, group=group_id).first()
    return found or GroupChoice(
        id=GroupChoice.id_for(person.pk, group_id), person=person, group_id=group_id
    )


# The fields for an archive of a person's own data; of others it has only ids.
TAKEN = (
    "id",
    "group",
    "club",
    "list",
    "candidate",
    "kind",
    "type",
    "thing",
    "thing_id",
    "facts",
    "times",
    "added_at",
    "read_at",
    "done_at",
    "settled_at",
    "created_at",
)
CHOSEN = ("in_service", "by_mail", "rhythm")


def notified(person: Person) -> dict[str, list[dict[str, Any]]]:
    """All stored notifications and settings of one person. Three queries."""
    own = {"person": person}
    return {
        "notifications": list(Notification.objects.filter(**own).order_by("pk").values(*TAKEN)),
        "notification_settings": list(
            Inbox.objects.filter(**own).values(
                *CHOSEN, "hour", "weekday", "time_zone", "confirmed_email"
            )
        ),
        "notification_choices": list(GroupChoice.objects.filter(**own).values("group", *CHOSEN)),
    }
