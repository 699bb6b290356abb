"""A worker's jobs for sent files: decode, write again, measure. Safe to repeat.

The database records which files are unread: state `processing`. File names are derived from the
record, so a repeated job writes the same files.
"""

import logging
import uuid
from datetime import timedelta
from typing import IO, Any

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from apps.boats.revisions import inputs_changed
from apps.common.errors import StorageFailed
from apps.common.processes.broker import broker
from apps.jobs.backoff import ASKED
from apps.jobs.leases import FREE, WELL, Lease, claim, rested, swept, wait_for_storage
from apps.viewings.media.adding import media_event_record
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.files import KINDS, file_read, file_store, files_remove
from apps.viewings.media.models import Media, Photo, ReadPicture, SellerPhoto, Sound
from apps.viewings.media.pdf import pdf_read
from apps.viewings.media.pictures import picture_read
from apps.viewings.media.reading import Unreadable
from apps.viewings.media.recordings import recording_read

log = logging.getLogger(__name__)

# Until then the storage may be away or being restored; after that the file counts as lost.
MOST_TIME_WITHOUT_ORIGINAL = timedelta(days=30)


def photo_prepare(*, photo_id: uuid.UUID) -> None:
    """Make the shown picture and its thumbnail, unless done or in progress."""
    _prepare(Photo, photo_id)


def seller_photo_prepare(*, photo_id: uuid.UUID) -> None:
    """The same for a photo from a seller."""
    _prepare(SellerPhoto, photo_id)


def gate_document_prepare(*, document_id: uuid.UUID) -> None:
    """Make the picture of a paper without metadata, or keep the PDF as it came."""
    _prepare(GateDocument, document_id)


def sound_prepare(*, sound_id: uuid.UUID) -> None:
    """Make the played recording and measure its taps, unless done or in progress."""
    _prepare(Sound, sound_id)


def media_sweep() -> None:
    """Send lost tasks again, so that every file is read even if its message was lost."""
    for kind in KINDS:
        for pk in swept(waiting(kind).order_by("pk")):
            broker.send(f"apps.viewings.tasks.prepare_{kind.WORD}", str(pk))


def waiting(kind: type[Media]) -> QuerySet[Any]:
    """The unread files that may be tried now."""
    return kind._base_manager.filter(kind.UNFINISHED, rested(), group__importing=False)


class NotDecoded(Exception):
    """A decoder failed for a reason that may not lie in the file."""


def _prepare(kind: type[Media], id: uuid.UUID) -> None:
    lease: Lease[Any] | None = claim(waiting(kind), id)
    if lease is None:
        return
    media: Media = lease.job
    try:
        files, found = _decode(lease, file_read(media, "original"))
        for form, content in files.items():
            file_store(media, form, content)
        _store(media, state=Media.State.READY, **found, **WELL)
    except StorageFailed as error:
        _wait_for_storage(lease, error)
    except Unreadable as refused:
        _store(media, state=Media.State.REJECTED, fault=refused.fault)
    except NotDecoded as error:
        _try_again(lease, error)


def _decode(lease: Lease[Any], file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    """The new files by form, and the fields to store. Raises `Unreadable`, `NotDecoded`.

    The attempt is counted before decoding, because a file may kill its worker, and uncounted
    afterwards: a worker killed while waiting for the storage or the database does not count.
    """
    media: Media = lease.job
    if ASKED.exhausted(lease.count_attempt() - 1):
        # Every worker that tried died; stop trying.
        raise Unreadable(Media.Fault.GAVE_UP)
    try:
        decoded = _read(media, file)
    except Unreadable:
        raise
    except Exception as error:
        raise NotDecoded(f"{type(error).__name__}: {error}") from error
    lease.heartbeat(attempts=0)
    return decoded


def _read(media: Media, file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    match media:
        case GateDocument():
            return _document(media, file), {}
        case ReadPicture():
            return _photo(media, file)
    return _sound(file)


def _document(document: GateDocument, file: IO[bytes]) -> dict[str, bytes]:
    if document.kept_as == GateDocument.KeptAs.PDF:
        return {"pdf": pdf_read(file)}
    picture = picture_read(file)
    return {"image": picture.image, "thumbnail": picture.thumbnail}


def _photo(photo: ReadPicture, file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    picture = picture_read(file)
    found = {
        "width": picture.width,
        "height": picture.height,
        # An imported file was written again before, so only its record has the time.
        "taken_at": picture.taken_at or photo.taken_at,
    }
    return {"image": picture.image, "thumbnail": picture.thumbnail}, found


def _sound(file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    heard = recording_read(file)
    found = {"duration_s": heard.duration_s, "rate_hz": heard.rate_hz, "taps": heard.taps}
    return {"recording": heard.recording}, found


def _try_again(lease: Lease[Any], error: NotDecoded) -> None:
    """Plan another attempt; after some attempts there is none, and the file is kept."""
    log.exception("%s %s was not decoded", lease.job._meta.label, lease.job.pk)
    if not lease.fail(error, ASKED, counted=True):
        _store(lease.job, state=Media.State.REJECTED, fault=Media.Fault.GAVE_UP)


def _wait_for_storage(lease: Lease[Any], error: StorageFailed) -> None:
    """Keep the file and try again later, without counting an attempt."""
    media: Media = lease.job
    failed_for = wait_for_storage(lease, error, version=F("version") + 1, updated_at=timezone.now())
    log.exception("the storage fails %s %s, for %s", media._meta.label, media.pk, failed_for)
    if error.file_missing and failed_for > MOST_TIME_WITHOUT_ORIGINAL:
        _store(media, state=Media.State.REJECTED, fault=Media.Fault.GAVE_UP)


def _still_processing(media: Media) -> Media | None:
    """The locked record; None if it was removed or another worker was quicker."""
    return (
        type(media)
        ._base_manager.select_for_update(of=("self",), no_key=True)
        .select_related(*media.RELATED)
        .filter(pk=media.pk, state=Media.State.PROCESSING)
        .first()
    )


@transaction.atomic
def _store(media: Media, **found: Any) -> None:
    """Store the result, unless the record was removed or another worker was quicker."""
    stored = _still_processing(media)
    if stored is None:
        return
    found |= FREE | {"storage_failing_since": None}
    for name, value in found.items():
        setattr(stored, name, value)
    stored.save_changes(fields=list(found))
    if isinstance(stored, Sound):
        # Also for a draft, which may have been submitted while the recording was read.
        inputs_changed(stored.of.list_id)
    media_event_record(stored.state, stored, None)
    transaction.on_commit(lambda: files_remove(stored.surplus_keys), robust=True)
