"""Notifications before they are stored."""

import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from apps.notifications.types import NOTIFICATION_TYPES, NotificationType

Json = dict[str, Any]
Key = tuple[uuid.UUID, str, uuid.UUID, str]  # person, type, thing, cause

# Combines a new change with one that the person has not seen; None if they cancel out.
Fold = Callable[[Json, Json], Json | None]


def newest(_: Json, new: Json) -> Json:
    return new


@dataclass(frozen=True)
class Draft:
    """One notification to one person. Facts: ids and figures, nothing hidden from the person."""

    person_id: uuid.UUID
    type: str
    thing_id: uuid.UUID
    cause: str
    facts: Json = field(default_factory=dict)
    list_id: uuid.UUID | None = None
    candidate_id: uuid.UUID | None = None
    # The reader's group, if it differs from the group of the event.
    group_id: uuid.UUID | None = None
    club_id: uuid.UUID | None = None
    weight: int = 0
    value: Decimal | None = None
    fold: Fold = newest
    event: int = 0  # the event's number in the group's order
    times: int = 1

    def with_facts(self, **facts: object) -> "Draft":
        return replace(self, facts={**self.facts, **facts})

    @property
    def key(self) -> Key:
        return (self.person_id, self.type, self.thing_id, self.cause)

    @property
    def about(self) -> NotificationType:
        return NOTIFICATION_TYPES[self.type]


@dataclass(frozen=True)
class DraftPeriod:
    """A condition that holds from one moment until another (None: open-ended)."""

    draft: Draft
    since: datetime | None = None
    until: datetime | None = None

    def holds(self, now: datetime) -> bool:
        return (self.since is None or self.since <= now) and (
            self.until is None or now < self.until
        )

    def changes_after(self, now: datetime) -> datetime | None:
        """The next moment when the condition begins or ends by itself."""
        moments = [at for at in (self.since, self.until) if at is not None and at > now]
        return min(moments, default=None)


Conditions = Iterator[DraftPeriod]


# --- Folds ---------------------------------------------------------------------------------------


def joined(*names: str) -> Fold:
    """The union of the sets of ids or words; other facts are the newer ones."""

    def fold(old: Json, new: Json) -> Json:
        both = {name: sorted({*old.get(name, ()), *new.get(name, ())}) for name in names}
        return {**new, **both}

    return fold


def from_first(before: str, after: str) -> Fold:
    """The change since the person last looked; None if the value is the same again."""

    def fold(old: Json, new: Json) -> Json | None:
        return None if old[before] == new[after] else {**new, before: old[before]}

    return fold
