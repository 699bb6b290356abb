"""Writing what is to be told: new, folded into what is unseen, or settled. Once for each cause."""

import uuid
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max, Q
from django.utils import timezone

from apps.boats.models import Candidate, CandidateList
from apps.notices.choosing import Inboxes, inboxes_lock
from apps.notices.drafts import Draft, Json, Key
from apps.notices.letters import letters_plan
from apps.notices.models import UNSEEN, Notice

About = tuple[uuid.UUID, str, uuid.UUID]  # person, matter, thing

FOLDED = (
    "version",
    "updated_at",
    "facts",
    "number",
    "told_at",
    "times",
    "last_event",
    "weight",
    "worth",
    "in_inbox",
    "read_at",
    "done_at",
    "settled_at",
)


@dataclass
class Round:
    """What is written of one group in one transaction."""

    now: datetime
    inboxes: Inboxes
    group_id: uuid.UUID
    new: list[Notice] = field(default_factory=list)
    changed: dict[uuid.UUID, Notice] = field(default_factory=dict)

    def told(self, notice: Notice) -> None:
        """It is new to the person (again)."""
        notice.number = self.inboxes.next_number(notice.person_id)
        notice.told_at = self.now

    def change(self, notice: Notice) -> None:
        if notice._state.adding:
            return
        if notice.pk not in self.changed:
            notice.version += 1
        notice.updated_at = self.now
        self.changed[notice.pk] = notice

    def settle(self, notice: Notice) -> None:
        notice.settled_at = self.now
        self.change(notice)

    def begin(self, draft: Draft) -> Notice | None:
        """A new notice, unless the person wants none of the kind."""
        kind = draft.about.kind
        group_id = None if draft.club_id else draft.group_id or self.group_id
        wanted = self.inboxes.wanted(draft.person_id, group_id)
        if not wanted.tells(kind):
            return None
        notice = Notice(
            person_id=draft.person_id,
            group_id=group_id,
            club_id=draft.club_id,
            list_id=draft.list_id,
            candidate_id=draft.candidate_id,
            kind=kind,
            matter=draft.matter,
            thing=draft.about.thing,
            thing_id=draft.thing_id,
            cause=draft.cause,
            facts=draft.facts,
            last_event=draft.event,
            times=draft.times,
            weight=draft.weight,
            worth=draft.worth,
            in_inbox=kind in wanted.in_service,
        )
        self.told(notice)
        self.new.append(notice)
        return notice

    def store(self) -> None:
        """Settled ones first: then there is room for what is told in their place."""
        Notice.objects.bulk_update(self.changed.values(), FOLDED)
        Notice.objects.bulk_create(
            [notice for notice in self.new if notice.settled_at is None], ignore_conflicts=True
        )
        self.inboxes.numbers_store()
        letters_plan([*self.new, *self.changed.values()], self.inboxes, self.now)


def notices_store(
    *,
    group_id: uuid.UUID,
    changes: Sequence[Draft],
    holding: Sequence[Draft],
    scope: Q,
) -> int:
    """Tell changes, and make the conditions told in `scope` those that hold. Returns how many new.

    Runs in the caller's transaction, in a constant number of queries.
    """
    changes, holding = there(changes), there(holding)
    open_now = Notice.objects.filter(scope, settled_at=None)
    people = {draft.person_id for draft in (*changes, *holding)}
    people |= set(open_now.values_list("person_id", flat=True))
    if not people:
        return 0
    round_ = Round(timezone.now(), inboxes_lock(people), group_id)
    if changes:
        changes_tell(round_, changes)
    conditions_tell(round_, holding, open_now.order_by("pk").select_for_update(no_key=True))
    round_.store()
    return len(round_.new)


def there(drafts: Sequence[Draft]) -> list[Draft]:
    """Without what is about boats and lists that were deleted meanwhile."""
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


def changes_tell(round_: Round, drafts: Sequence[Draft]) -> None:
    """Fold each into what the person has not seen of the same, or begin anew.

    What was mailed is told: what comes after is told anew, and settles the older.
    """
    people, matters, things = zip(*(d.key[:3] for d in drafts), strict=True)
    same = Notice.objects.filter(
        person__in=set(people), matter__in=set(matters), thing_id__in=set(things)
    )
    told_up_to: dict[About, int] = {
        (row["person"], row["matter"], row["thing_id"]): row["up_to"]
        for row in same.order_by()
        .values("person", "matter", "thing_id")
        .annotate(up_to=Max("last_event"))
    }
    unseen: dict[About, Notice] = {
        (one.person_id, one.matter, one.thing_id): one
        for one in same.filter(UNSEEN).order_by("pk").select_for_update(no_key=True)
    }
    for draft in drafts:
        about = draft.key[:3]
        if draft.event and draft.event <= told_up_to.get(about, 0):
            continue
        change_tell(round_, draft, unseen)


def change_tell(round_: Round, draft: Draft, unseen: dict[About, Notice]) -> None:
    about = draft.key[:3]
    earlier = unseen.get(about)
    if earlier is None:
        if notice := round_.begin(draft):
            unseen[about] = notice
        return
    facts = folded(earlier.facts, draft)
    if facts is None:
        round_.settle(earlier)
        del unseen[about]
    elif earlier.letter_id is not None:
        round_.settle(earlier)
        del unseen[about]
        if notice := round_.begin(draft):
            notice.facts, notice.times = facts, earlier.times + draft.times
            notice.weight = max(notice.weight, earlier.weight)
            unseen[about] = notice
    else:
        earlier.facts, earlier.last_event = facts, draft.event
        earlier.times += draft.times
        earlier.weight = max(earlier.weight, draft.weight)
        round_.told(earlier)
        round_.change(earlier)


def folded(old: Json, draft: Draft) -> Json | None:
    """Whose doings it was grows with it, whatever the rest does."""
    facts = draft.fold(old, draft.facts)
    if facts is None:
        return None
    return {**facts, "by": sorted({*old.get("by", ()), *draft.facts.get("by", ())})}


# --- Conditions ----------------------------------------------------------------------------------


def conditions_tell(round_: Round, holding: Iterable[Draft], told: Iterable[Notice]) -> None:
    """What holds is told once; what was told and holds no more is settled.

    The same cause that comes back opens the same notice again: it is never mailed twice.
    """
    told_now = {key_of(notice): notice for notice in told}
    to_hold = {draft.key: draft for draft in holding}
    for key, notice in told_now.items():
        draft = to_hold.get(key)
        if draft is None:
            round_.settle(notice)
        elif (notice.facts, notice.worth) != (draft.facts, draft.worth):
            # The same in other figures: it is no news.
            notice.facts, notice.worth, notice.weight = draft.facts, draft.worth, draft.weight
            round_.change(notice)
    missing = [draft for key, draft in to_hold.items() if key not in told_now]
    earlier = settled_before(missing)
    for draft in missing:
        if before := earlier.get(draft.key):
            reopen(round_, before, draft)
        else:
            round_.begin(draft)


def key_of(notice: Notice) -> Key:
    return (notice.person_id, notice.matter, notice.thing_id, notice.cause)


def settled_before(drafts: Sequence[Draft]) -> dict[Key, Notice]:
    if not drafts:
        return {}
    people, matters, things, _ = zip(*(draft.key for draft in drafts), strict=True)
    found = Notice.objects.filter(
        person__in=set(people), matter__in=set(matters), thing_id__in=set(things)
    ).exclude(settled_at=None)
    return {key_of(one): one for one in found.order_by("pk").select_for_update(no_key=True)}


def reopen(round_: Round, notice: Notice, draft: Draft) -> None:
    wanted = round_.inboxes.wanted(notice.person_id, notice.group_id)
    if not wanted.tells(notice.kind):
        return
    notice.in_inbox = notice.kind in wanted.in_service
    notice.facts, notice.worth, notice.weight = draft.facts, draft.worth, draft.weight
    notice.read_at = notice.done_at = notice.settled_at = None
    round_.told(notice)
    round_.change(notice)
