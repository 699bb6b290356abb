"""Each person's choice of notifications from a group."""

import uuid
from collections.abc import Collection
from dataclasses import dataclass, field

from apps.notifications.models import GroupChoice, Inbox, Rhythm


@dataclass(frozen=True)
class Choice:
    """A person's general settings and, where set, those for one group."""

    in_service: Collection[str]
    by_mail: Collection[str]
    rhythm: str

    @classmethod
    def of(cls, inbox: Inbox, choice: GroupChoice | None) -> "Choice":
        if choice is None:
            return cls(inbox.in_service, inbox.by_mail, inbox.rhythm)
        return cls(
            inbox.in_service if choice.in_service is None else choice.in_service,
            inbox.by_mail if choice.by_mail is None else choice.by_mail,
            choice.rhythm or inbox.rhythm,
        )

    def mails(self, kind: str) -> bool:
        return kind in self.by_mail and self.rhythm != Rhythm.NEVER

    def wants(self, kind: str) -> bool:
        return kind in self.in_service or self.mails(kind)


@dataclass
class Inboxes:
    """Inboxes locked until the transaction ends, with their persons' choices."""

    by_person: dict[uuid.UUID, Inbox]
    choices: dict[tuple[uuid.UUID, uuid.UUID], GroupChoice] = field(default_factory=dict)

    def wanted(self, person_id: uuid.UUID, group_id: uuid.UUID | None) -> Choice:
        choice = self.choices.get((person_id, group_id)) if group_id else None
        return Choice.of(self.by_person[person_id], choice)

    def next_number(self, person_id: uuid.UUID) -> int:
        inbox = self.by_person[person_id]
        inbox.last += 1
        return inbox.last

    def numbers_store(self) -> None:
        Inbox.objects.bulk_update(self.by_person.values(), ["last"])


def inboxes_lock(people: Collection[uuid.UUID]) -> Inboxes:
    """The locked inboxes. Three queries. Locks go in the order of ids, so that no two deadlock."""
    Inbox.objects.bulk_create(
        [Inbox(id=person, person_id=person) for person in sorted(people)], ignore_conflicts=True
    )
    locked = Inbox.objects.select_for_update(no_key=True).filter(pk__in=people).order_by("pk")
    return Inboxes(
        {inbox.person_id: inbox for inbox in locked},
        {
            (one.person_id, one.group_id): one
            for one in GroupChoice.objects.filter(person__in=people)
        },
    )


def inbox_lock(person_id: uuid.UUID) -> Inboxes:
    return inboxes_lock([person_id])
