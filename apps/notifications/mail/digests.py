"""Plans digests when there are notifications for them, and fills them when they are due.

The first notification plans a digest. When it is sent it contains everything that is still unseen,
so that read notifications are not mailed. A notification goes into one digest only.
"""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from apps.groups.models import ClubMembership, Membership
from apps.jobs.leases import Lease
from apps.notifications.choosing import Inboxes, inbox_lock
from apps.notifications.mail.periods import Due, dues
from apps.notifications.models import UNSEEN, DigestEmail, Inbox, Notification

State = DigestEmail.State
Occasion = DigestEmail.Occasion
DIGESTS = (Occasion.AT_ONCE, Occasion.DAILY, Occasion.WEEKLY)

# Longer than any period: an older digest cannot belong to a future period.
LONGEST = timedelta(days=16)


# --- Planning ------------------------------------------------------------------------------------


def digests_plan(notifications: Iterable[Notification], inboxes: Inboxes, now: datetime) -> None:
    """Plan a digest for each person who wants one for these. Two queries; locks the inboxes."""
    wanted = {
        (notification.person_id, wanted.rhythm)
        for notification in notifications
        if notification.digest_id is None and notification.unseen
        for wanted in [inboxes.wanted(notification.person_id, notification.group_id)]
        if wanted.mails(notification.kind)
        and inboxes.by_person[notification.person_id].confirmed_email
    }
    if not wanted:
        return
    people = {person for person, _ in wanted}
    used = set(
        DigestEmail.objects.filter(person__in=people, created_at__gt=now - LONGEST)
        .exclude(state=State.WAITING, filled_at=None)
        .values_list("person_id", "occasion", "period")
    )
    planned = []
    for person, rhythm in sorted(wanted):
        due = next_due(inboxes.by_person[person], rhythm, now, used)
        planned.append(
            DigestEmail(
                person_id=person, occasion=rhythm, period=due.period, next_attempt_at=due.at
            )
        )
    DigestEmail.objects.bulk_create(planned, ignore_conflicts=True)


def next_due(
    inbox: Inbox, rhythm: str, now: datetime, used: set[tuple[uuid.UUID, str, str]]
) -> Due:
    """The next moment of a period that has had no digest yet."""
    coming = dues(rhythm, after=now, zone=inbox.zone, hour=inbox.hour, weekday=inbox.weekday)
    return next(due for due in coming if (inbox.person_id, rhythm, due.period) not in used)


def digests_replan(inboxes: Inboxes) -> None:
    """Plan digests again from what is unseen, after settings changed."""
    people = list(inboxes.by_person)
    DigestEmail.objects.filter(
        person__in=people,
        occasion__in=DIGESTS,
        state=State.WAITING,
        filled_at=None,
    ).delete()
    unseen = Notification.objects.filter(UNSEEN, person__in=people, digest=None)
    digests_plan(list(unseen), inboxes, timezone.now())


# --- Taking along --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Contents:
    """The content of a digest, and its address."""

    address: str
    notifications: list[Notification]


@transaction.atomic
def digest_fill(held: Lease[DigestEmail]) -> Contents | None:
    """Put all unseen notifications into the digest; each goes into one digest only.

    None if another worker has the digest. None also if there is nothing to send or no address; the
    digest is then deleted. The inbox is locked, so a notification that arrives meanwhile is either
    in this digest or plans another one.
    """
    digest, mine = held.job, held.rows.filter(state=State.WAITING)
    inboxes = inbox_lock(digest.person_id)
    if not mine.update(filled_at=timezone.now()):
        return None
    person, inbox = digest.person, inboxes.by_person[digest.person_id]
    confirmed = inbox.confirmed_email == person.email
    notifications = unseen_for(digest, inboxes) if confirmed and digest.occasion in DIGESTS else []
    match digest.occasion:
        case Occasion.CONFIRMATION:
            wanted = not confirmed
        case Occasion.PASSWORD:
            wanted = confirmed
        case _:
            wanted = bool(notifications)
    if not (wanted and person.is_active):
        mine.delete()
        return None
    Notification.objects.filter(pk__in=[notification.pk for notification in notifications]).update(
        digest=digest
    )
    return Contents(person.email, notifications)


def unseen_for(digest: DigestEmail, inboxes: Inboxes) -> list[Notification]:
    """The unseen notifications that the person's present settings put into this digest."""
    pending = Notification.objects.filter(
        UNSEEN, Q(digest=None) | Q(digest=digest), still_belongs(digest), person=digest.person_id
    )
    return [
        notification
        for notification in pending.select_related("group", "club", "list", "candidate").order_by(
            "pk"
        )
        for wanted in [inboxes.wanted(notification.person_id, notification.group_id)]
        if wanted.mails(notification.kind) and wanted.rhythm == digest.occasion
    ]


def still_belongs(digest: DigestEmail) -> Q:
    """Whether the person still belongs to the group or club; otherwise nothing is mailed."""
    groups = Membership.objects.filter(person=digest.person_id, ended_at=None)
    clubs = ClubMembership.objects.filter(person=digest.person_id, ended_at=None)
    return Q(group__in=groups.values("group")) | Q(club__in=clubs.values("club"))


def pending_again(digest: DigestEmail) -> None:
    """Move the notifications of an abandoned digest to the next one."""
    with transaction.atomic():
        inboxes = inbox_lock(digest.person_id)
        held: QuerySet[Notification] = Notification.objects.filter(digest=digest)
        held.update(digest=None)
        unseen = Notification.objects.filter(UNSEEN, person=digest.person_id, digest=None)
        digests_plan(list(unseen), inboxes, timezone.now())
