"""What is to be told, before it is stored."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from apps.notifications.types import NOTIFICATION_TYPES, NotificationType

Json = dict[str, Any]
Key = tuple[uuid.UUID, str, uuid.UUID, str]  # person, type, thing, cause

# How what is new is put to what the person has not seen yet; None: it is as it was, after all.
Fold = Callable[[Json, Json], Json | None]


def newest(_: Json, new: Json) -> Json:
    return new


@dataclass(frozen=True)
class Draft:
    """One thing to tell one person. Facts hold ids and figures, and nothing hidden from them."""

    person_id: uuid.UUID
    type: str
    thing_id: uuid.UUID
    cause: str
    facts: Json = field(default_factory=dict)
    list_id: uuid.UUID | None = None
    candidate_id: uuid.UUID | None = None
    # Where its reader belongs, if that is not the group it happened in.
    group_id: uuid.UUID | None = None
    club_id: uuid.UUID | None = None
    weight: int = 0
    value: Decimal | None = None
    fold: Fold = newest
    event: int = 0  # number in the group's order, of what is told of an event
    times: int = 1

    @property
    def key(self) -> Key:
        return (self.person_id, self.type, self.thing_id, self.cause)

    @property
    def about(self) -> NotificationType:
        return NOTIFICATION_TYPES[self.type]


@dataclass(frozen=True)
class DraftPeriod:
    """What is so from one moment until another (None: for ever), and is told while it is."""

    draft: Draft
    since: datetime | None = None
    until: datetime | None = None

    def holds(self, now: datetime) -> bool:
        return (self.since is None or self.since <= now) and (
            self.until is None or now < self.until
        )

    def changes_after(self, now: datetime) -> datetime | None:
        """When it next begins or ceases to be so by itself."""
        moments = [at for at in (self.since, self.until) if at is not None and at > now]
        return min(moments, default=None)


# --- Folds ---------------------------------------------------------------------------------------


def joined(*names: str) -> Fold:
    """Sets of ids or words grow together; the rest is that of the newer."""

    def fold(old: Json, new: Json) -> Json:
        both = {name: sorted({*old.get(name, ()), *new.get(name, ())}) for name in names}
        return {**new, **both}

    return fold


def from_first(before: str, after: str) -> Fold:
    """From where it was when the person last looked to where it is; None if it is back there."""

    def fold(old: Json, new: Json) -> Json | None:
        return None if old[before] == new[after] else {**new, before: old[before]}

    return fold
