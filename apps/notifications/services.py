"""Services by which a person marks notifications and changes settings."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from apps.accounts.models import Person
from apps.common.digests import email_digest
from apps.common.errors import Conflict, Invalid
from apps.notifications.choosing import inbox_lock
from apps.notifications.mail.digests import digests_replan
from apps.notifications.mail.links import person_confirming, person_unsubscribing
from apps.notifications.models import DigestEmail, GroupChoice, Inbox, Notification, Rhythm
from apps.notifications.selectors import choice_for, inbox_of, notifications_of

Occasion = DigestEmail.Occasion

# --- Marking -------------------------------------------------------------------------------------


@transaction.atomic
def notification_mark(
    *,
    notification: Notification,
    expected_version: int,
    read: bool | None = None,
    done: bool | None = None,
) -> Notification:
    """Mark as read or done. Done implies read, and unread implies not done."""
    now = timezone.now()
    if done is not None:
        notification.done_at = (notification.done_at or now) if done else None
    if read is not None or done:
        notification.read_at = (notification.read_at or now) if read or done else None
    if notification.read_at is None:
        notification.done_at = None
    try:
        with transaction.atomic():
            notification.save_changes(
                expected_version=expected_version, fields=["read_at", "done_at"]
            )
    except IntegrityError as error:
        raise Conflict(
            "notified_anew", "There is a newer notification of the same, still unread."
        ) from error
    return notification


@transaction.atomic
def notifications_mark(
    *,
    person: Person,
    up_to: int,
    done: bool = False,
    kind: str | None = None,
    group: uuid.UUID | None = None,
) -> int:
    """Mark all open ones up to this number as read or done. Returns how many."""
    inbox_lock(person.pk)
    now = timezone.now()
    marked = Q(done_at=None) if done else Q(read_at=None)
    ids = notifications_of(person, kind=kind, group=group).filter(marked, number__lte=up_to)
    changes: dict[str, Any] = {"read_at": Coalesce("read_at", now)}
    if done:
        changes["done_at"] = now
    return Notification.objects.filter(pk__in=list(ids.values_list("pk", flat=True))).update(
        version=F("version") + 1, updated_at=now, **changes
    )


# --- Choosing ------------------------------------------------------------------------------------


@transaction.atomic
def inbox_change(*, person: Person, facts: Mapping[str, Any], expected_version: int) -> Inbox:
    """Change the general settings: kinds shown and mailed, rhythm, hour and time zone."""
    inboxes = inbox_lock(person.pk)
    inbox = inboxes.by_person[person.pk]
    for name, value in facts.items():
        setattr(inbox, name, value)
    inbox.save_changes(expected_version=expected_version, fields=list(facts))
    digests_replan(inboxes)
    return inbox


@transaction.atomic
def choice_change(
    *, person: Person, group_id: uuid.UUID, facts: Mapping[str, Any], expected_version: int
) -> GroupChoice:
    """Change the settings for one group; null means the general setting."""
    inboxes = inbox_lock(person.pk)
    choice = choice_for(person, group_id)
    if choice._state.adding:
        choice.save(force_insert=True)
    for name, value in facts.items():
        setattr(choice, name, value)
    choice.save_changes(expected_version=expected_version, fields=list(facts))
    inboxes.choices[person.pk, group_id] = choice
    digests_replan(inboxes)
    return choice


# --- The address ---------------------------------------------------------------------------------


@transaction.atomic
def confirmation_ask(*, person: Person) -> DigestEmail:
    """Plan one mail to the account's address, to confirm that it is the person's."""
    inbox = inbox_lock(person.pk).by_person[person.pk]
    if inbox.confirmed_email == person.email:
        raise Conflict("address_confirmed", "This address is confirmed already.")
    now = timezone.now()
    try:
        with transaction.atomic():
            return DigestEmail.objects.create(
                person=person,
                occasion=Occasion.CONFIRMATION,
                period=f"{now:%Y-%m-%dT%HZ}",
                next_attempt_at=now,
            )
    except IntegrityError as error:
        raise Conflict(
            "asked_already", "A mail was written in this hour. Look for it, or ask again later."
        ) from error


@transaction.atomic
def password_notice_plan(*, person: Person) -> None:
    """Plan a mail to the confirmed address, if there is one, that the password was changed.

    It is no digest, so it comes whatever the rhythm.
    """
    if inbox_of(person).confirmed_email != person.email:
        return
    now = timezone.now()
    DigestEmail.objects.bulk_create(
        [
            DigestEmail(
                person=person,
                occasion=Occasion.PASSWORD,
                period=f"{now:%Y-%m-%dT%H:%M:%S}",
                next_attempt_at=now,
            )
        ],
        ignore_conflicts=True,  # one mail for two changes in one second
    )


@transaction.atomic
def address_confirm(*, token: str) -> None:
    """Confirm the address. Raises `Invalid` for a forged or expired link or another address."""
    found = person_confirming(token)
    person = Person.objects.filter(pk=found[0], is_active=True).first() if found else None
    if found is None or person is None or email_digest(person.email) != found[1]:
        raise Invalid.at("", "unusable_link", "This link is not valid any more.")
    inboxes = inbox_lock(person.pk)
    inbox = inboxes.by_person[person.pk]
    if inbox.confirmed_email != person.email:
        inbox.confirmed_email = person.email
        inbox.save_changes(fields=["confirmed_email"])
        digests_replan(inboxes)


@transaction.atomic
def mail_end(*, token: str) -> None:
    """Stop all digests; the inbox continues. Raises `Invalid` for a forged link."""
    person_id = person_unsubscribing(token)
    if person_id is None:
        raise Invalid.at("", "unusable_link", "This link is not valid.")
    if not Person.objects.filter(pk=person_id, is_active=True).exists():
        return  # the account is deleted and gets no mail
    inboxes = inbox_lock(person_id)
    inbox = inboxes.by_person[person_id]
    if inbox.rhythm != Rhythm.NEVER:
        inbox.rhythm = Rhythm.NEVER
        inbox.save_changes(fields=["rhythm"])
    GroupChoice.objects.filter(person=person_id).exclude(rhythm="").update(
        rhythm="", version=F("version") + 1
    )
    digests_replan(inbox_lock(person_id))
