"""Digests: planned when there is something to tell, put together when they are due.

A letter is planned with the first notice for it and takes along all that is unseen when it is sent,
so that what was read meanwhile is not mailed. A notice goes into one letter, and no other.
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
from apps.notices.choosing import Inboxes, inbox_lock
from apps.notices.models import UNSEEN, Inbox, Letter, Notice
from apps.notices.periods import Due, dues

State = Letter.State
Occasion = Letter.Occasion
DIGESTS = (Occasion.AT_ONCE, Occasion.DAILY, Occasion.WEEKLY)

# Longer than any period: a letter made before cannot be of one that is still to come.
LONGEST = timedelta(days=16)


# --- Planning ------------------------------------------------------------------------------------


def letters_plan(notices: Iterable[Notice], inboxes: Inboxes, now: datetime) -> None:
    """A letter for everybody who wants one of these. Two queries; the inboxes are locked."""
    wanted = {
        (notice.person_id, wanted.rhythm)
        for notice in notices
        if notice.letter_id is None and notice.unseen
        for wanted in [inboxes.wanted(notice.person_id, notice.group_id)]
        if wanted.mails(notice.kind) and inboxes.by_person[notice.person_id].confirmed_email
    }
    if not wanted:
        return
    people = {person for person, _ in wanted}
    used = set(
        Letter.objects.filter(person__in=people, created_at__gt=now - LONGEST)
        .exclude(state=State.WAITING, filled_at=None)
        .values_list("person_id", "occasion", "period")
    )
    planned = []
    for person, rhythm in sorted(wanted):
        due = next_due(inboxes.by_person[person], rhythm, now, used)
        planned.append(
            Letter(person_id=person, occasion=rhythm, period=due.period, next_attempt_at=due.at)
        )
    Letter.objects.bulk_create(planned, ignore_conflicts=True)


def next_due(
    inbox: Inbox, rhythm: str, now: datetime, used: set[tuple[uuid.UUID, str, str]]
) -> Due:
    """The next moment of a period that has had no letter yet."""
    coming = dues(rhythm, after=now, zone=inbox.zone, hour=inbox.hour, weekday=inbox.weekday)
    return next(due for due in coming if (inbox.person_id, rhythm, due.period) not in used)


def letters_replan(inboxes: Inboxes) -> None:
    """After other choices: what was planned is planned anew from what is unseen."""
    people = list(inboxes.by_person)
    Letter.objects.filter(
        person__in=people,
        occasion__in=DIGESTS,
        state=State.WAITING,
        filled_at=None,
    ).delete()
    unseen = Notice.objects.filter(UNSEEN, person__in=people, letter=None)
    letters_plan(list(unseen), inboxes, timezone.now())


# --- Taking along --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Contents:
    """What goes into a letter, and to which address."""

    address: str
    notices: list[Notice]


@transaction.atomic
def letter_fill(held: Lease[Letter]) -> Contents | None:
    """Put into the letter all that its person has not seen; each notice into one letter only.

    None if somebody else holds the letter by now; or if there is nothing left to say, or nowhere to
    say it: then the letter is gone. The inbox is locked, so that what is told meanwhile is either
    in this letter or finds it filled, and has another planned.
    """
    letter, mine = held.job, held.rows.filter(state=State.WAITING)
    inboxes = inbox_lock(letter.person_id)
    if not mine.update(filled_at=timezone.now()):
        return None
    person, inbox = letter.person, inboxes.by_person[letter.person_id]
    confirmed = inbox.confirmed_email == person.email
    asks = letter.occasion == Occasion.CONFIRMATION
    notices = [] if asks or not confirmed else unseen_for(letter, inboxes)
    if not person.is_active or asks == confirmed or not (asks or notices):
        mine.delete()
        return None
    Notice.objects.filter(pk__in=[notice.pk for notice in notices]).update(letter=letter)
    return Contents(person.email, notices)


def unseen_for(letter: Letter, inboxes: Inboxes) -> list[Notice]:
    """What its person wants in letters of this occasion, as chosen now."""
    pending = Notice.objects.filter(
        UNSEEN, Q(letter=None) | Q(letter=letter), still_belongs(letter), person=letter.person_id
    )
    return [
        notice
        for notice in pending.select_related("group", "club", "list", "candidate").order_by("pk")
        for wanted in [inboxes.wanted(notice.person_id, notice.group_id)]
        if wanted.mails(notice.kind) and wanted.rhythm == letter.occasion
    ]


def still_belongs(letter: Letter) -> Q:
    """Of a group or club that the person has left nothing is mailed."""
    groups = Membership.objects.filter(person=letter.person_id, ended_at=None)
    clubs = ClubMembership.objects.filter(person=letter.person_id, ended_at=None)
    return Q(group__in=groups.values("group")) | Q(club__in=clubs.values("club"))


def pending_again(letter: Letter) -> None:
    """What a letter that was given up held goes into the next one."""
    with transaction.atomic():
        inboxes = inbox_lock(letter.person_id)
        held: QuerySet[Notice] = Notice.objects.filter(letter=letter)
        held.update(letter=None)
        unseen = Notice.objects.filter(UNSEEN, person=letter.person_id, letter=None)
        letters_plan(list(unseen), inboxes, timezone.now())
