"""What each file goes through that somebody sends: checked, stored, announced, read by a job."""

import hashlib
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from apps.accounts.models import Person
from apps.common.errors import Conflict, FieldFault, Invalid
from apps.common.processes.broker import broker
from apps.common.services import record_create
from apps.groups.programs import client_note
from apps.viewings.event_records import record_event
from apps.viewings.media import pictures, recordings
from apps.viewings.media.files import file_store, files_prune
from apps.viewings.media.models import Media
from apps.viewings.media.reading import format_of

AnyMedia = TypeVar("AnyMedia", bound=Media)

# Nobody sends more of one visit or boat; a client that does has a fault.
MOST_TO_ONE = 300


@dataclass(frozen=True)
class Accepted:
    """The accepted formats of a kind of media."""

    formats: tuple[str, ...]
    words: str


PHOTOS = Accepted(pictures.FORMATS, "a JPEG, PNG, WebP or HEIC picture")
SOUNDS = Accepted(recordings.FORMATS, "a WAV or FLAC recording")
DOCUMENTS = Accepted((*pictures.FORMATS, "PDF"), "a PDF, or a JPEG, PNG, WebP or HEIC picture")


def media_add(
    media: AnyMedia,
    by: Person,
    file: "UploadedFile[bytes]",
    accepted: Accepted,
    id: uuid.UUID | None,
    require_fit: Callable[[AnyMedia], None],
) -> tuple[AnyMedia, bool]:
    """Store a file that the person may add; and whether it is new.

    require_fit: raises if a new one cannot be added there.
    """
    media.made_from = _digest(media, file)
    if id is not None and (stored := _repeated(media, id)):
        return stored, False
    require_fit(media)
    _require_accepted(media, file, accepted)
    client_note(record=media, by=by, group_id=media.group_id)
    try:
        record_create(media, id)
    except Conflict:
        # A repeat sent at the same time has just been stored.
        if id is not None and (stored := _repeated(media, id)):
            return stored, False
        raise
    file_store(media, "original", file)
    media_event_record("added", media, by)
    send_later(media)
    return media, True


def _digest(media: Media, file: "UploadedFile[bytes]") -> str:
    """SHA-256 (hex) of the file and its fields."""
    digest = hashlib.sha256(repr(tuple(map(str, media.fields_sent))).encode())
    file.seek(0)
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return digest.hexdigest()


def _repeated(media: AnyMedia, id: uuid.UUID) -> AnyMedia | None:
    stored = type(media)._base_manager.filter(pk=id).first()
    if stored is None:
        return None
    if (stored.added_by_id, stored.made_from) != (media.added_by_id, media.made_from):
        raise Conflict("id_taken", "This id is in use already, for something else.")
    return stored


def _require_accepted(media: Media, file: "UploadedFile[bytes]", accepted: Accepted) -> None:
    fault, largest = None, getattr(settings, media.LARGEST_BYTES)
    if (file.size or 0) > largest:
        fault = FieldFault("/file", "too_large", f"At most {largest} bytes.")
    elif format_of(file) not in accepted.formats:
        fault = FieldFault("/file", "not_accepted", f"Send {accepted.words}.")
    if fault:
        raise Invalid([fault])


def require_room(sent: int) -> None:
    if sent >= MOST_TO_ONE:
        raise Conflict("too_many", f"There are {MOST_TO_ONE} here already.")


def media_delete(media: Media, by: Person, expected_version: int) -> None:
    """Delete the record, and its files after the commit. That it existed stays on record."""
    media.save_changes(expected_version=expected_version, fields=[])
    media_event_record("removed", media, by, deleted=True)
    files_prune([media])
    media.delete()


def media_event_record(
    what: str, media: Media, by: Person | None, *, deleted: bool = False
) -> None:
    """Record the event, for the author only if it belongs to a draft."""
    facts: dict[str, Any] = {**media.facts, "state": media.state}
    record_event(
        f"{media.WORD}.{what}",
        media,
        media.of,
        by,
        deleted=deleted,
        only_for=media.only_for,
        **facts,
    )


def send_later(media: Media) -> None:
    """Send a worker's task after the commit; if the message is lost, the sweep finds it."""
    transaction.on_commit(
        lambda: broker.send(f"apps.viewings.tasks.prepare_{media.WORD}", str(media.pk)),
        robust=True,
    )
