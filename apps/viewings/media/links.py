"""Signed links to files, which work without a token: the images of a page cannot send one.

A link names the person and the token it was given to. It works for a limited time, while the token
is valid and the person may still see the file.
"""

import time
import uuid
from dataclasses import dataclass

from django.conf import settings
from django.core.signing import BadSignature, Signer
from django.urls import reverse

from apps.accounts.access import PROGRAMS
from apps.accounts.models import Person
from apps.accounts.selectors import token_behind, token_word
from apps.common.errors import Gone, NotVisible
from apps.viewings.media.files import KINDS as ALL
from apps.viewings.media.models import Media

KINDS: dict[str, type[Media]] = {f"{kind.WORD}s": kind for kind in ALL}
SIGNER_SALT = "media link 3"


@dataclass(frozen=True)
class Opened:
    """The content of a link: one form of a file, valid for so many more seconds.

    person: whom it was given to. program: the one that asked for them, if any. token: the one used.
    """

    kind: type[Media]
    id: uuid.UUID
    form: str
    person: uuid.UUID
    program: uuid.UUID | None
    token: str
    seconds_left: int


def slot() -> int:
    """The end of links given out now, in seconds since 1970.

    Links of one period end together, so a link stays the same for that period and its file can be
    cached.
    """
    stretch = int(settings.MEDIA_LINK_LIFETIME.total_seconds())
    return (int(time.time()) // stretch + 2) * stretch


def link(media: Media, form: str, person: Person) -> str:
    """The path and query of a link to a file in one form, given to this person."""
    kind = f"{media.WORD}s"
    program = str(person.via.id) if person.via and person.via.kind in PROGRAMS else None
    by = token_behind(person)
    token = _signer().sign_object([kind, str(media.pk), form, str(person.pk), program, by, slot()])
    return f"{reverse('media', args=[kind, media.pk, form])}?token={token}"


def variant(person: Person) -> str:
    """The ETag's variant for answers of the same version with other links."""
    return f"{slot()}{token_word(person)}"


def link_open(*, kind: str, id: uuid.UUID, form: str, token: str) -> Opened:
    """The content of a link. Raises `NotVisible` for a wrong token, `Gone` for an expired one."""
    try:
        *signed, person, program, by, ends = _signer().unsign_object(token)
    except (BadSignature, ValueError) as error:
        raise NotVisible from error
    if signed != [kind, str(id), form] or form not in KINDS[kind].FORMS:
        raise NotVisible
    seconds_left = ends - int(time.time())
    if seconds_left <= 0:
        raise Gone("link_ended", "This link has expired. Read what it belongs to again.")
    through = program and uuid.UUID(program)
    return Opened(KINDS[kind], id, form, uuid.UUID(person), through, by, seconds_left)


def _signer() -> Signer:
    return Signer(salt=SIGNER_SALT)
