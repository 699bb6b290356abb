"""Links to files that may be opened without signing in, for a while: a page cannot send a token.

A link names whom it was given to and by which token, and opens what that person may still see when
it is opened, as long as the token is good.
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
from apps.viewings.media.models import Media, Photo, Sound

KINDS: dict[str, type[Media]] = {"photos": Photo, "sounds": Sound}
SIGNER_SALT = "media link 3"


@dataclass(frozen=True)
class Opened:
    """What a link opens: one form of a file, for so many seconds still.

    person: whom it was given to. program: the one through which they asked for it, if any. token:
    by which they did.
    """

    kind: type[Media]
    id: uuid.UUID
    form: str
    person: uuid.UUID
    program: uuid.UUID | None
    token: str
    seconds_left: int


def slot() -> int:
    """Seconds since 1970 at which links given out now end.

    All of one stretch of time end together: a link stays the same for so long, and is kept by
    whoever fetched what it opens.
    """
    stretch = int(settings.MEDIA_LINK_LIFETIME.total_seconds())
    return (int(time.time()) // stretch + 2) * stretch


def link(media: Media, form: str, person: Person) -> str:
    """The path and query of a link to a file in one form, given to this person."""
    kind = f"{media._meta.model_name}s"
    program = str(person.via.id) if person.via and person.via.kind in PROGRAMS else None
    by = token_behind(person)
    token = _signer().sign_object([kind, str(media.pk), form, str(person.pk), program, by, slot()])
    return f"{reverse('media', args=[kind, media.pk, form])}?token={token}"


def variant(person: Person) -> str:
    """What tells apart answers of the same version that hold other links."""
    return f"{slot()}{token_word(person)}"


def link_open(*, kind: str, id: uuid.UUID, form: str, token: str) -> Opened:
    """Raises `NotVisible` for a token that is not for this, `Gone` for one that has run out."""
    try:
        *signed, person, program, by, ends = _signer().unsign_object(token)
    except (BadSignature, ValueError) as error:
        raise NotVisible from error
    if signed != [kind, str(id), form] or form not in KINDS[kind].FORMS:
        raise NotVisible
    seconds_left = ends - int(time.time())
    if seconds_left <= 0:
        raise Gone("link_ended", "This link has run out. Read the photo or the sound again.")
    through = program and uuid.UUID(program)
    return Opened(KINDS[kind], id, form, uuid.UUID(person), through, by, seconds_left)


def _signer() -> Signer:
    return Signer(salt=SIGNER_SALT)
