"""Stores notifications: adds new ones, folds changes into unseen ones, and settles old ones."""

import uuid
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max, Q
from django.utils import timezone

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.notifications.choosing import Inboxes, inboxes_lock
from apps.notifications.mail.digests import digests_plan
from apps.notifications.models import UNSEEN, Notification
from apps.notifications.rules.drafts import Draft, Json, Key

About = tuple[uuid.UUID, str, uuid.UUID]  # person, type, thing

FOLDED = (
    "version",
    "updated_at",
    "facts",
    "number",
    "added_at",
    "times",
    "last_event",
    "weight",
    "value",
    "in_inbox",
    "read_at",
    "done_at",
    "settled_at",
)


@dataclass
class WrittenRound:
    """The notifications of one group that one transaction writes."""

    now: datetime
    inboxes: Inboxes
    group_id: uuid.UUID
    new: list[Notification] = field(default_factory=list)
    changed: dict[uuid.UUID, Notification] = field(default_factory=dict)

    def notified(self, notification: Notification) -> None:
        """Give it the next number: it is new to the person (again)."""
        notification.number = self.inboxes.next_number(notification.person_id)
        notification.added_at = self.now

    def change(self, notification: Notification) -> None:
        if notification._state.adding:
            return
        if notification.pk not in self.changed:
            notification.version += 1
        notification.updated_at = self.now
        self.changed[notification.pk] = notification

    def settle(self, notification: Notification) -> None:
        notification.settled_at = self.now
        self.change(notification)

    def begin(self, draft: Draft) -> Notification | None:
        """Add a new notification, unless the person wants none of the kind."""
        kind = draft.about.kind
        group_id = None if draft.club_id else draft.group_id or self.group_id
        wanted = self.inboxes.wanted(draft.person_id, group_id)
        if not wanted.wants(kind):
            return None
        notification = Notification(
            person_id=draft.person_id,
            group_id=group_id,
            club_id=draft.club_id,
            list_id=draft.list_id,
            candidate_id=draft.candidate_id,
            kind=kind,
            type=draft.type,
            thing=draft.about.thing,
            thing_id=draft.thing_id,
            cause=draft.cause,
            facts=draft.facts,
            last_event=draft.event,
            times=draft.times,
            weight=draft.weight,
            value=draft.value,
            in_inbox=kind in wanted.in_service,
        )
        self.notified(notification)
        self.new.append(notification)
        return notification

    def store(self) -> None:
        """Store settled ones first, because of the unique constraint on open ones."""
        Notification.objects.bulk_update(self.changed.values(), FOLDED)
        Notification.objects.bulk_create(
            [notification for notification in self.new if notification.settled_at is None],
            ignore_conflicts=True,
        )
        self.inboxes.numbers_store()
        digests_plan([*self.new, *self.changed.values()], self.inboxes, self.now)


def notifications_store(
    *,
    group_id: uuid.UUID,
    changes: Sequence[Draft],
    holding: Sequence[Draft],
    scope: Q,
) -> int:
    """Store changes, and make the conditions in `scope` those that hold. Returns how many are new.

    Runs in the caller's transaction, in a constant number of queries.
    """
    changes, holding = there(changes), there(holding)
    open_now = Notification.objects.filter(scope, settled_at=None)
    people = {draft.person_id for draft in (*changes, *holding)}
    people |= set(open_now.values_list("person_id", flat=True))
    if not people:
        return 0
    round_ = WrittenRound(timezone.now(), inboxes_lock(people), group_id)
    if changes:
        changes_notify(round_, changes)
    conditions_notify(round_, holding, open_now.order_by("pk").select_for_update(no_key=True))
    round_.store()
    return len(round_.new)


def there(drafts: Sequence[Draft]) -> list[Draft]:
    """The drafts without those about boats and lists that were deleted meanwhile."""
    boats = existing(Candidate, {draft.candidate_id for draft in drafts})
    lists = existing(CandidateList, {draft.list_id for draft in drafts})
    return [d for d in drafts if d.candidate_id in boats and d.list_id in lists]


def existing(
    model: type[Candidate] | type[CandidateList], ids: Collection[uuid.UUID | None]
) -> set[uuid.UUID | None]:
    named = [pk for pk in ids if pk is not None]
    found = model._base_manager.filter(pk__in=named).values_list("pk", flat=True) if named else ()
    return {None, *found}


# --- Changes -------------------------------------------------------------------------------------


def changes_notify(round_: WrittenRound, drafts: Sequence[Draft]) -> None:
    """Fold each change into the unseen notification about the same, or add a new one.

    A mailed one counts as seen: the next change adds a new one and settles the older.
    """
    people, types, things = zip(*(d.key[:3] for d in drafts), strict=True)
    same = Notification.objects.filter(
        person__in=set(people), type__in=set(types), thing_id__in=set(things)
    )
    notified_up_to: dict[About, int] = {
        (row["person"], row["type"], row["thing_id"]): row["up_to"]
        for row in same.order_by()
        .values("person", "type", "thing_id")
        .annotate(up_to=Max("last_event"))
    }
    unseen: dict[About, Notification] = {
        (one.person_id, one.type, one.thing_id): one
        for one in same.filter(UNSEEN).order_by("pk").select_for_update(no_key=True)
    }
    for draft in drafts:
        about = draft.key[:3]
        if draft.event and draft.event <= notified_up_to.get(about, 0):
            continue
        change_notify(round_, draft, unseen)


def change_notify(round_: WrittenRound, draft: Draft, unseen: dict[About, Notification]) -> None:
    about = draft.key[:3]
    earlier = unseen.get(about)
    if earlier is None:
        if notification := round_.begin(draft):
            unseen[about] = notification
        return
    facts = folded(earlier.facts, draft)
    if facts is None:
        round_.settle(earlier)
        del unseen[about]
    elif earlier.digest_id is not None:
        round_.settle(earlier)
        del unseen[about]
        if notification := round_.begin(draft):
            notification.facts, notification.times = facts, earlier.times + draft.times
            notification.weight = max(notification.weight, earlier.weight)
            unseen[about] = notification
    else:
        earlier.facts, earlier.last_event = facts, draft.event
        earlier.times += draft.times
        earlier.weight = max(earlier.weight, draft.weight)
        round_.notified(earlier)
        round_.change(earlier)


def folded(old: Json, draft: Draft) -> Json | None:
    """The combined facts; the people who acted are always united."""
    facts = draft.fold(old, draft.facts)
    if facts is None:
        return None
    return {**facts, "by": sorted({*old.get("by", ()), *draft.facts.get("by", ())})}


# --- Conditions ----------------------------------------------------------------------------------


def conditions_notify(
    round_: WrittenRound, holding: Iterable[Draft], notified: Iterable[Notification]
) -> None:
    """Add a notification for each new condition; settle those that no longer hold.

    A cause that comes back reopens its notification, so it is never mailed twice.
    """
    notify_now = {key_of(notification): notification for notification in notified}
    to_hold = {draft.key: draft for draft in holding}
    for key, notification in notify_now.items():
        draft = to_hold.get(key)
        if draft is None:
            round_.settle(notification)
        elif (notification.facts, notification.value) != (draft.facts, draft.value):
            # Only figures changed, so it does not become new.
            notification.facts, notification.value, notification.weight = (
                draft.facts,
                draft.value,
                draft.weight,
            )
            round_.change(notification)
    missing = [draft for key, draft in to_hold.items() if key not in notify_now]
    earlier = settled_before(missing)
    for draft in missing:
        if before := earlier.get(draft.key):
            reopen(round_, before, draft)
        else:
            round_.begin(draft)


def key_of(notification: Notification) -> Key:
    return (notification.person_id, notification.type, notification.thing_id, notification.cause)


def settled_before(drafts: Sequence[Draft]) -> dict[Key, Notification]:
    if not drafts:
        return {}
    people, types, things, _ = zip(*(draft.key for draft in drafts), strict=True)
    found = Notification.objects.filter(
        person__in=set(people), type__in=set(types), thing_id__in=set(things)
    ).exclude(settled_at=None)
    return {key_of(one): one for one in found.order_by("pk").select_for_update(no_key=True)}


def reopen(round_: WrittenRound, notification: Notification, draft: Draft) -> None:
    wanted = round_.inboxes.wanted(notification.person_id, notification.group_id)
    if not wanted.wants(notification.kind):
        return
    notification.in_inbox = notification.kind in wanted.in_service
    notification.facts, notification.value, notification.weight = (
        draft.facts,
        draft.value,
        draft.weight,
    )
    notification.read_at = notification.done_at = notification.settled_at = None
    round_.notified(notification)
    round_.change(notification)
