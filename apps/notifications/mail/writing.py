"""Writes the mails: text, the same as HTML, and the headers that mail systems require.

Headers: Auto-Submitted prevents automatic answers (RFC 3834); List-Unsubscribe ends the mails with
one click and without signing in (RFC 2369, RFC 8058). No header has text that people wrote, except
the address.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from email.utils import parseaddr
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.utils.timezone import localtime

from apps.accounts.models import Person
from apps.notifications.mail.digests import DIGESTS, Contents
from apps.notifications.mail.links import confirm_link, unsubscribe_link
from apps.notifications.models import DigestEmail, Notification
from apps.notifications.sentences.table import CAUTION, sentence
from apps.notifications.types import TITLES, NotificationKind
from apps.notifications.words import count, group_name, words_for

Occasion = DigestEmail.Occasion

MOST_LINES = 20  # of each kind; the inbox has all


@dataclass(frozen=True)
class MailSection:
    """The notifications of one kind as lines, the most important first."""

    title: str
    lines: list[str]
    more: int


def written(digest: DigestEmail, contents: Contents, connection: Any) -> EmailMultiAlternatives:
    """The message, ready to send."""
    person = digest.person
    context: dict[str, Any]
    match digest.occasion:
        case Occasion.CONFIRMATION:
            subject, template = "Is this your address?", "confirmation"
            context = {"link": confirm_link(person)}
        case Occasion.PASSWORD:
            subject, template = "your password was changed", "password"
            at = localtime(digest.created_at, person.inbox.zone)
            context = {"at": f"{at:%-d %B %Y, %H:%M %Z}"}
        case _:
            subject, template = subject_of(contents.notifications), "digest"
            context = {
                "sections": sections(contents.notifications, person),
                "caution": CAUTION,
                "inbox": f"{settings.PUBLIC_URL}/api/v1/notifications",
                "unsubscribe": unsubscribe_link(person.pk),
            }
    message = EmailMultiAlternatives(
        subject=f"Hardstand: {subject}",
        body=render_to_string(f"notifications/{template}.txt", context),
        to=[contents.address],
        headers=headers(digest),
        connection=connection,
    )
    message.attach_alternative(
        render_to_string(f"notifications/{template}.html", context), "text/html"
    )
    return message


def headers(digest: DigestEmail) -> dict[str, str]:
    _, sender = parseaddr(settings.DEFAULT_FROM_EMAIL)
    made = {
        "Message-ID": f"<{digest.pk}@{sender.rpartition('@')[2]}>",
        "Auto-Submitted": "auto-generated",
    }
    if digest.occasion in DIGESTS:
        link = unsubscribe_link(digest.person_id)
        made["List-Unsubscribe"] = f"<{link}>"
        if link.startswith("https:"):  # RFC 8058 section 3.1 asks for it
            made["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return made


def subject_of(notifications: Sequence[Notification]) -> str:
    """'2 waiting for you, 1 disagreement to settle, 3 changed'."""
    n = {
        kind: sum(notification.kind == kind for notification in notifications)
        for kind in NotificationKind
    }
    text = [
        f"{n[NotificationKind.WAITING]} waiting for you" if n[NotificationKind.WAITING] else "",
        count(n[NotificationKind.DISAGREEMENT], "disagreement", "disagreements") + " to settle"
        if n[NotificationKind.DISAGREEMENT]
        else "",
        f"{n[NotificationKind.CHANGED]} changed" if n[NotificationKind.CHANGED] else "",
    ]
    return ", ".join(one for one in text if one)


def sections(notifications: Sequence[Notification], person: Person) -> list[MailSection]:
    """The sections of a digest. Two queries for names."""
    words = words_for(notifications, person.inbox.zone)
    found = []
    for kind, title in TITLES.items():
        of_kind = sorted((one for one in notifications if one.kind == kind), key=urgency)
        if of_kind:
            lines = [line_of(one, sentence(one, words)) for one in of_kind[:MOST_LINES]]
            found.append(MailSection(title, lines, len(of_kind) - len(lines)))
    return found


def urgency(notification: Notification) -> tuple[float, ...]:
    """The sort key: structure, safety and flooding first, then a look's value, then the newest."""
    return (-notification.weight, -float(notification.value or 0), -notification.number)


def line_of(notification: Notification, text: str) -> str:
    group = group_name(notification)
    return text if text.startswith(f"{group}:") else f"{group}: {text}"
