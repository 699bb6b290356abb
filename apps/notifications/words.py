"""Names and counts in notifications."""

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.notifications.models import Notification
from apps.notifications.rules.drafts import Json

SOMEBODY, A_BOAT = "somebody", "a boat no longer on the list"


@dataclass(frozen=True)
class Words:
    """Names by id as text, and the time zone for times."""

    people: dict[str, str] = field(default_factory=dict)
    boats: dict[str, str] = field(default_factory=dict)
    zone: ZoneInfo = field(default_factory=lambda: ZoneInfo("UTC"))

    def person(self, id: str | None) -> str:
        return line(self.people.get(id or "", SOMEBODY))

    def boat(self, id: str) -> str:
        return line(self.boats.get(id, A_BOAT))

    def by(self, facts: Json) -> str:
        return listed([self.person(one) for one in facts.get("by", ())]) or SOMEBODY

    def when(self, moment: str) -> str:
        """'2 May 2026 at 10:00' on the reader's clock."""
        at = datetime.fromisoformat(moment).astimezone(self.zone)
        return f"{at.day} {at:%B %Y} at {at:%H:%M}"


def words_for(notifications: Iterable[Notification], zone: ZoneInfo) -> Words:
    """The names that these notifications need. Two queries."""
    facts = [notification.facts for notification in notifications]
    people = {id for one in facts for id in people_in(one)}
    boats = {id for one in facts for id in boats_in(one)}
    return Words(
        people={
            str(pk): name
            for pk, name in Person.objects.filter(pk__in=people).values_list("pk", "name")
        },
        boats={
            str(pk): name
            for pk, name in Candidate.objects.filter(pk__in=boats).values_list("pk", "name")
        },
        zone=zone,
    )


def people_in(facts: Json) -> Iterator[str]:
    yield from facts.get("by", ())
    yield from (other["person_id"] for other in facts.get("seen_by", ()))


def boats_in(facts: Json) -> Iterator[str]:
    yield from facts.get("candidates", ())
    for name in ("before", "now"):
        if isinstance(facts.get(name), list):
            yield from (one for one in facts[name] if is_id(one))


def is_id(text: object) -> bool:
    try:
        return bool(uuid.UUID(str(text)))
    except ValueError:
        return False


def line(text: str) -> str:
    """The text on one line, without control characters."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def listed(names: list[str]) -> str:
    """'Ada, Ben and Bea'."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def count(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"


def boat(notification: Notification) -> str:
    return line(notification.candidate.name) if notification.candidate else A_BOAT


def list_name(notification: Notification) -> str:
    return line(notification.list.name) if notification.list else "a list"


def group_name(notification: Notification) -> str:
    return line(notification.group.name) if notification.group else "the group"


def others(notification: Notification) -> str:
    return count(notification.facts["others"], "other has", "others have")
