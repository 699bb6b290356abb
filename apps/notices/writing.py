"""The mails themselves: text, the same as HTML, and the headers that mail systems ask for.

Headers: Auto-Submitted says that a machine writes (RFC 3834), so that no machine answers;
List-Unsubscribe says where to end it, with one click and without signing in (RFC 2369, RFC 8058).
The subject holds no text of anybody's, nor does any other header but the address itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from email.utils import parseaddr
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string

from apps.accounts.models import Person
from apps.notices.letters import Contents
from apps.notices.links import confirm_link, unsubscribe_link
from apps.notices.matters import Kind
from apps.notices.models import Letter, Notice
from apps.notices.sentences import CAUTION, count, group_name, sentence, words_for

MOST_LINES = 20  # of each kind; the inbox has them all

TITLES = {
    Kind.WAITING: "Waiting for you",
    Kind.DISAGREEMENT: "Disagreements to settle",
    Kind.CHANGED: "Changed since you last looked",
}


@dataclass(frozen=True)
class Section:
    """The notices of one kind as lines, those that matter most first."""

    title: str
    lines: list[str]
    more: int


def written(letter: Letter, contents: Contents, connection: Any) -> EmailMultiAlternatives:
    """The message, ready to be handed over."""
    person = letter.person
    if letter.occasion == Letter.Occasion.CONFIRMATION:
        subject, template = "Is this your address?", "confirmation"
        context: dict[str, Any] = {"link": confirm_link(person)}
    else:
        subject, template = subject_of(contents.notices), "digest"
        context = {
            "sections": sections(contents.notices, person),
            "caution": CAUTION,
            "inbox": f"{settings.PUBLIC_URL}/api/v1/notices",
            "unsubscribe": unsubscribe_link(person.pk),
        }
    message = EmailMultiAlternatives(
        subject=f"Hardstand: {subject}",
        body=render_to_string(f"notices/{template}.txt", context),
        to=[contents.address],
        headers=headers(letter),
        connection=connection,
    )
    message.attach_alternative(render_to_string(f"notices/{template}.html", context), "text/html")
    return message


def headers(letter: Letter) -> dict[str, str]:
    _, sender = parseaddr(settings.DEFAULT_FROM_EMAIL)
    made = {
        "Message-ID": f"<{letter.pk}@{sender.rpartition('@')[2]}>",
        "Auto-Submitted": "auto-generated",
    }
    if letter.occasion != Letter.Occasion.CONFIRMATION:
        link = unsubscribe_link(letter.person_id)
        made["List-Unsubscribe"] = f"<{link}>"
        if link.startswith("https:"):  # RFC 8058 section 3.1 asks for it
            made["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return made


def subject_of(notices: Sequence[Notice]) -> str:
    """'2 waiting for you, 1 disagreement to settle, 3 changed'."""
    n = {kind: sum(notice.kind == kind for notice in notices) for kind in Kind}
    said = [
        f"{n[Kind.WAITING]} waiting for you" if n[Kind.WAITING] else "",
        count(n[Kind.DISAGREEMENT], "disagreement", "disagreements") + " to settle"
        if n[Kind.DISAGREEMENT]
        else "",
        f"{n[Kind.CHANGED]} changed" if n[Kind.CHANGED] else "",
    ]
    return ", ".join(one for one in said if one)


def sections(notices: Sequence[Notice], person: Person) -> list[Section]:
    """Two queries for names."""
    words = words_for(notices, person.inbox.zone)
    found = []
    for kind, title in TITLES.items():
        of_kind = sorted((one for one in notices if one.kind == kind), key=urgency)
        if of_kind:
            lines = [line_of(one, sentence(one, words)) for one in of_kind[:MOST_LINES]]
            found.append(Section(title, lines, len(of_kind) - len(lines)))
    return found


def urgency(notice: Notice) -> tuple[float, ...]:
    """Structure, safety and flooding first, then what a look is worth, then the newest."""
    return (-notice.weight, -float(notice.worth or 0), -notice.number)


def line_of(notice: Notice, said: str) -> str:
    group = group_name(notice)
    return said if said.startswith(f"{group}:") else f"{group}: {said}"
