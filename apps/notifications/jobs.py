"""Makes notifications from a group's events.

A group's event cursor has the number of the last processed event. The holder of the cursor's lease
reads and computes everything outside a transaction, then stores the notifications together with the
cursor's next position, if it still has the lease. So a second worker, a lost message or a dead
worker neither repeats nor loses a notification. The amount of work depends on the lists that
changed, not on the size or number of groups.
"""

import logging
import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, F, Max, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from apps.boats.gates.models import Gate
from apps.boats.list_models import CandidateList
from apps.events.models import Event, EventSequence
from apps.groups.models import Group
from apps.jobs.backoff import MUST
from apps.jobs.leases import WELL, Lease, claim, free, rested, work_while_due
from apps.notifications.models import EventCursor, GroupChoice, Notification, NotifiedStanding
from apps.notifications.rules.admissions import Admissions, admissions_read
from apps.notifications.rules.changes import changed, list_of
from apps.notifications.rules.disagreements import disagreements
from apps.notifications.rules.drafts import Draft, DraftPeriod
from apps.notifications.rules.looks import (
    TYPES_OF_LOOKS,
    LookConditions,
    lists_with_ended_looks,
    looks_read,
)
from apps.notifications.rules.looks import scope as looks_scope
from apps.notifications.rules.standings import (
    Doings,
    moved,
    notified_of,
    notified_read,
    stands_read,
)
from apps.notifications.rules.state import MemberState, members_of, state_read
from apps.notifications.rules.waiting import REPORT_NOT_ASKED_AFTER, waiting
from apps.notifications.storing import notifications_store
from apps.notifications.types import NotificationKind
from apps.ownership.models import HandoverItem
from apps.purchase.models import Offer
from apps.surveys.models import SurveyVote
from apps.viewings.models import FollowUp, Submission, Viewing

log = logging.getLogger(__name__)

# Results do not depend on these kinds of record.
NO_INPUTS = (
    *("viewing", "follow_up", "seller_photo", "gate_document", "photo", "sound", "trip"),
    *("second_opinion_request", "yard_day", "admission_request"),
)
MOST_EVENTS = 500
MOST_ROUNDS = 20
LEASE = timedelta(minutes=1)  # a round that takes longer and was superseded stores nothing
# When a group is first seen, older events than this make no notifications.
NEWS = timedelta(days=1)


def groups_behind(now: datetime | None = None) -> QuerySet[EventSequence]:
    """Sequences of groups with unprocessed events or due times.

    Without those that a worker processes, and those that failed and wait.
    """
    event_cursors = EventCursor.objects.filter(pk=OuterRef("group"))
    due = event_cursors.filter(due_at__lte=now or timezone.now())
    waits = event_cursors.exclude(free() & rested(now=now))
    there = Group.objects.filter(pk=OuterRef("group"))
    return EventSequence.objects.annotate(at=Subquery(event_cursors.values("number"))).filter(
        Exists(there), ~Exists(waits), Q(at=None) | Q(at__lt=F("last")) | Exists(due)
    )


def group_notify(*, group_id: uuid.UUID) -> int:
    """Process the group's events until none are left. Returns the number of rounds."""
    return work_while_due(lambda: _claim(group_id), _round, MOST_ROUNDS)


def _claim(group_id: uuid.UUID) -> Lease[EventCursor] | None:
    behind = groups_behind().filter(group=group_id)
    if not behind.exists():
        return None
    cursor_begin(group_id)
    return claim(EventCursor.objects.filter(group__in=behind.values("group")), group_id, LEASE)


def _round(lease: Lease[EventCursor]) -> None:
    try:
        work_store(lease, work_read(lease.job))
    except Exception as error:
        log.exception("notifications of group %s could not be made", lease.job.pk)
        lease.fail(error, MUST)


@dataclass
class NotificationRound:
    """The inputs and results of one round."""

    event_cursor: EventCursor
    number: int
    members: dict[uuid.UUID, MemberState]
    events: Sequence[Event] = ()
    changes: list[Draft] = field(default_factory=list)
    waiting: list[DraftPeriod] = field(default_factory=list)
    disputed: list[DraftPeriod] = field(default_factory=list)
    looks: LookConditions = field(default_factory=lambda: LookConditions([], set()))
    admissions: Admissions = field(default_factory=Admissions)
    touched: set[uuid.UUID] = field(default_factory=set)  # lists with possibly changed conditions
    looked_at: set[uuid.UUID] = field(default_factory=set)  # lists with new looks
    standings: list[NotifiedStanding] = field(default_factory=list)
    timed: bool = False  # `touched` includes all lists where time matters

    @property
    def waits(self) -> bool:
        """Whether the round computes waiting conditions."""
        return self.timed or bool(self.touched) or any(e.thing == "trip" for e in self.events)


# --- Reading and working out ---------------------------------------------------------------------


def work_read(event_cursor: EventCursor) -> NotificationRound:
    group_id = event_cursor.pk
    events = list(
        Event.objects.filter(group=group_id, number__gt=event_cursor.number).order_by("number")[
            :MOST_EVENTS
        ]
    )
    work = NotificationRound(
        event_cursor,
        number=events[-1].number if events else event_cursor.number,
        members=members_of(group_id),
        events=events,
        timed=event_cursor.due_at is None or event_cursor.due_at <= timezone.now(),
    )
    work.changes = changed(events, work.members)
    standings_work_out(work)
    work.looked_at = {event.thing_id for event in events if event.kind == "looks.ready"}
    work.disputed = disagreements(sorted(work.looked_at), work.members)
    work.touched = lists_touched(work)
    if work.timed or any(event.thing == "admission_request" for event in events):
        work.admissions = admissions_read(group_id)
    if work.waits:
        work.waiting = waiting(state_read(group_id, work.touched, work.members))
        work.looks = looks_read(work.touched, work.members)
    return work


def cursor_begin(group_id: uuid.UUID) -> None:
    """Make a new group's cursor at its first recent event. Waiting conditions are due at once."""
    if EventCursor.objects.filter(pk=group_id).exists():
        return
    old = Event.objects.filter(group=group_id, created_at__lt=timezone.now() - NEWS)
    sequence = EventSequence.objects.filter(group=group_id).first()
    pruned = sequence.pruned if sequence else 0
    number = max(old.aggregate(last=Max("number"))["last"] or 0, pruned)
    EventCursor.objects.bulk_create(
        [EventCursor(group_id=group_id, number=number, due_at=timezone.now())],
        ignore_conflicts=True,
    )


def lists_touched(work: NotificationRound) -> set[uuid.UUID]:
    """Lists whose waiting conditions may have changed.

    Finished results change none of them; a change of members changes all.
    """
    if any(event.thing in ("membership", "group") for event in work.events):
        return set(
            CandidateList.objects.filter(group=work.event_cursor.group_id).values_list(
                "pk", flat=True
            )
        )
    touched = {
        list_id
        for event in work.events
        if event.thing not in ("list_appraisal", "group_pool")
        and (list_id := list_of(event)) is not None
    }
    return touched | (lists_with_time(work.event_cursor.group_id) if work.timed else set())


def lists_with_time(group_id: uuid.UUID) -> set[uuid.UUID]:
    """Lists where time alone changes what waits for somebody. One query."""
    now = timezone.now()
    recent = now - REPORT_NOT_ASKED_AFTER - 2 * NEWS  # includes those that just ended
    mine = Q(candidate__list=OuterRef("pk"))
    visits = Viewing.objects.filter(mine, starts_at__gt=recent, people__isnull=False)
    questions = FollowUp.objects.filter(mine, state=FollowUp.State.OPEN, due_on__isnull=False)
    gates = Gate.objects.filter(mine, needed=True, settled=False, due_on__isnull=False)
    votes = SurveyVote.objects.filter(mine, closed_at=None, closes_on__isnull=False)
    offers = Offer.objects.filter(mine, state=Offer.State.MADE, answer_by__isnull=False)
    handovers = HandoverItem.objects.filter(
        mine, found=None, candidate__handover__handed_over_on__isnull=False
    )
    drafts = Submission.objects.filter(
        viewing__candidate__list=OuterRef("pk"), state=Submission.State.DRAFT
    )
    lists = CandidateList.objects.filter(
        Exists(visits)
        | Exists(questions)
        | Exists(gates)
        | Exists(votes)
        | Exists(offers)
        | Exists(handovers)
        | Exists(drafts)
        | lists_with_ended_looks(now),
        group=group_id,
    )
    return set(lists.values_list("pk", flat=True))


def standings_work_out(work: NotificationRound) -> None:
    """Compute changes of standing from each list's newest results, and who acted since the last."""
    events: dict[uuid.UUID, list[Event]] = defaultdict(list)
    ready: dict[uuid.UUID, int] = {}
    for event in work.events:
        list_id = list_of(event)
        if event.kind == "results.ready":
            ready[event.thing_id] = event.number
        elif list_id is not None and event.by_id and is_input(event):
            events[list_id].append(event)
    lists = {*events, *ready}
    if not lists:
        return
    there = CandidateList.objects.filter(pk__in=lists, group=work.event_cursor.group_id).in_bulk()
    known = notified_read(sorted(there))
    stands = stands_read([there[pk] for pk in sorted(ready) if pk in there], work.members)
    for list_id in sorted(there):
        before = known.get(list_id)
        doings = doings_since(before, events[list_id])
        now = stands.get(list_id)
        if now is not None:
            if before is not None:
                work.changes += moved(list_id, before, now, doings, ready[list_id])
            work.standings.append(notified_of(list_id, before, now, doings))
        elif before is not None and events[list_id]:
            before.by, before.in_secret = sorted(doings.by), sorted(doings.in_secret)
            work.standings.append(before)


def doings_since(before: NotifiedStanding | None, events: Sequence[Event]) -> Doings:
    doings = Doings(frozenset(before.by), frozenset(before.in_secret)) if before else Doings()
    for event in events:
        doings = doings.and_also(str(event.by_id), in_secret=event.only_for is not None)
    return doings


def is_input(event: Event) -> bool:
    """Whether results may depend on the event."""
    if event.thing == "submission":
        return event.kind == "submission.submitted"
    return event.thing not in NO_INPUTS


# --- Storing -------------------------------------------------------------------------------------


@transaction.atomic
def work_store(lease: Lease[EventCursor], work: NotificationRound) -> None:
    """Store everything, or nothing if another worker has the lease."""
    event_cursor, now = work.event_cursor, timezone.now()
    if not lease.heartbeat(number=work.number, due_at=next_time(work, now), **WELL):
        return
    if any(event.kind in ("member.left", "member.changed") for event in work.events):
        gone_prune(event_cursor.group_id, work.members)
    NotifiedStanding.objects.bulk_create(
        work.standings,
        update_conflicts=True,
        unique_fields=["list"],
        update_fields=["stands", "by", "in_secret"],
    )
    notifications_store(
        group_id=event_cursor.group_id,
        changes=work.changes,
        holding=[
            condition.draft
            for condition in (
                *work.waiting,
                *work.disputed,
                *work.looks.conditions,
                *work.admissions.conditions,
            )
            if condition.holds(now)
        ],
        scope=scope_of(work),
    )


def scope_of(work: NotificationRound) -> Q:
    """The stored notifications to compare with this round's conditions."""
    scope = Q(pk__in=[])
    if work.waits:
        here = Q(list__in=work.touched) | Q(list=None)
        # Requests of other groups are compared in the rounds of those groups.
        scope |= Q(kind=NotificationKind.WAITING) & here & ~Q(type__in=TYPES_OF_LOOKS)
    if work.looked_at:
        scope |= Q(kind=NotificationKind.DISAGREEMENT, list__in=work.looked_at)
    own = scope & Q(group=work.event_cursor.group_id)
    return own | looks_scope(work.looks.things) | work.admissions.scope


def next_time(work: NotificationRound, now: datetime) -> datetime:
    """The next time when a condition begins or ends by itself, as far as this round knows.

    At the latest after a day, because some changes, for example of invitations, have no event.
    """
    latest = (
        now + NEWS if work.timed or work.event_cursor.due_at is None else work.event_cursor.due_at
    )
    conditions = (*work.waiting, *work.looks.conditions)
    moments = [at for one in conditions if (at := one.changes_after(now)) is not None]
    return min([*moments, latest])


def gone_prune(group_id: uuid.UUID, members: dict[uuid.UUID, MemberState]) -> None:
    """Delete the notifications of people who left the group."""
    for model in (Notification, GroupChoice):
        model.objects.filter(group=group_id).exclude(person__in=list(members)).delete()
