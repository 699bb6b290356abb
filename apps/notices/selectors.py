"""Reads, scoped to the reader: only their own notices, only of where they belong."""

import uuid
from typing import Any

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.groups.rules import membership_of, visible_clubs, visible_groups
from apps.notices.matters import opened_by
from apps.notices.models import UNSEEN, GroupChoice, Inbox, Notice


def notices_visible(person: Person) -> QuerySet[Notice]:
    """A limited token shows only notices of what it opens.

    What a club's desk asked is of other groups: once it is over, nothing of it is shown.
    """
    notices = Notice.objects.filter(
        Q(group__in=visible_groups(person))
        | Q(club__in=visible_clubs(person), settled_at__isnull=True),
        person=person,
        in_inbox=True,
    ).select_related("group", "club", "list", "candidate")
    opened = opened_by(person.via)
    return notices if opened is None else notices.filter(matter__in=opened)


def notices_of(
    person: Person,
    *,
    kind: str | None = None,
    group: uuid.UUID | None = None,
    read: bool | None = None,
    open: bool = True,
) -> QuerySet[Notice]:
    """open: neither done nor ceased; otherwise what is over."""
    notices = notices_visible(person)
    if kind:
        notices = notices.filter(kind=kind)
    if group:
        notices = notices.filter(group=group)
    if read is not None:
        notices = notices.filter(read_at__isnull=not read)
    over = Q(done_at__isnull=False) | Q(settled_at__isnull=False)
    return notices.exclude(over) if open else notices.filter(over)


def notice_for(person: Person, notice_id: uuid.UUID) -> Notice:
    return get_object_or_404(notices_visible(person), pk=notice_id)


def unread_count(person: Person) -> int:
    return notices_visible(person).filter(UNSEEN).count()


def inbox_of(person: Person) -> Inbox:
    """As stored, or as it is for whoever never chose anything."""
    found = Inbox.objects.filter(pk=person.pk).first()
    return found or Inbox(id=person.pk, person=person)


def choice_for(person: Person, group_id: uuid.UUID) -> GroupChoice:
    """The same for one group of the person's."""
    membership_of(person, group_id)
    found = GroupChoice.objects.filter(person=person, group=group_id).first()
    return found or GroupChoice(
        id=GroupChoice.id_for(person.pk, group_id), person=person, group_id=group_id
    )


# What an archive of a person's own data takes along; of others only ids are in it.
TAKEN = (
    "id",
    "group",
    "club",
    "list",
    "candidate",
    "kind",
    "matter",
    "thing",
    "thing_id",
    "facts",
    "times",
    "told_at",
    "read_at",
    "done_at",
    "settled_at",
    "created_at",
)
CHOSEN = ("in_service", "by_mail", "rhythm")


def told_to(person: Person) -> dict[str, list[dict[str, Any]]]:
    """All that is kept of what one person was told and chose. Three queries."""
    own = {"person": person}
    return {
        "notices": list(Notice.objects.filter(**own).order_by("pk").values(*TAKEN)),
        "notice_settings": list(
            Inbox.objects.filter(**own).values(
                *CHOSEN, "hour", "weekday", "time_zone", "confirmed_email"
            )
        ),
        "notice_choices": list(GroupChoice.objects.filter(**own).values("group", *CHOSEN)),
    }
