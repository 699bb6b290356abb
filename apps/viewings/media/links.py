"""Links to files that may be opened without signing in, for a while: a page cannot send a token."""

import time
import uuid
from dataclasses import dataclass

from django.conf import settings
from django.core.signing import BadSignature, Signer
from django.urls import reverse

from apps.exchange.errors import Gone, NotVisible
from apps.viewings.media.models import Media, Photo, Sound

KINDS: dict[str, type[Media]] = {"photos": Photo, "sounds": Sound}
SIGNER_SALT = "media link"


@dataclass(frozen=True)
class Opened:
    """What a link opens: one form of a file, for so many seconds still."""

    kind: type[Media]
    id: uuid.UUID
    form: str
    seconds_left: int


def slot() -> int:
    """Seconds since 1970 at which links given out now end.

    All of one stretch of time end together: a link stays the same for so long, and is kept by
    whoever fetched what it opens.
    """
    stretch = int(settings.MEDIA_LINK_LIFETIME.total_seconds())
    return (int(time.time()) // stretch + 2) * stretch


def link(media: Media, form: str) -> str:
    """The path and query of a link to a file in one form."""
    kind = f"{media._meta.model_name}s"
    token = _signer().sign_object([kind, str(media.pk), form, slot()])
    return f"{reverse('media', args=[kind, media.pk, form])}?token={token}"


def link_open(*, kind: str, id: uuid.UUID, form: str, token: str) -> Opened:
    """Raises `NotVisible` for a token that is not for this, `Gone` for one that has run out."""
    try:
        signed = _signer().unsign_object(token)
    except (BadSignature, ValueError) as error:
        raise NotVisible from error
    if signed[:3] != [kind, str(id), form] or form not in KINDS[kind].FORMS:
        raise NotVisible
    seconds_left = signed[3] - int(time.time())
    if seconds_left <= 0:
        raise Gone("link_ended", "This link has run out. Read the photo or the sound again.")
    return Opened(KINDS[kind], id, form, seconds_left)


def _signer() -> Signer:
    return Signer(salt=SIGNER_SALT)
