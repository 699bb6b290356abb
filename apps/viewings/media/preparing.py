"""Reading what was sent, in a worker: decoded, written anew, measured. Safe to repeat.

The database is the record of what is not read yet: state `processing`. Files are written under
names that follow from the record, so a worker that does it again writes the same ones.
"""

import logging
import uuid
from datetime import timedelta
from typing import IO, Any

from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from apps.boats.revisions import inputs_changed
from apps.common.broker import broker
from apps.common.errors import StorageFailed
from apps.jobs.backoff import ASKED
from apps.jobs.leases import FREE, WELL, Lease, claim, rested, swept, wait_for_storage
from apps.viewings.media.files import KINDS, file_read, file_store, files_remove
from apps.viewings.media.models import Media, Photo, Sound
from apps.viewings.media.pictures import picture_read
from apps.viewings.media.reading import Unreadable
from apps.viewings.media.recordings import recording_read
from apps.viewings.media.services import media_event_record

log = logging.getLogger(__name__)

# What has not come back by then is lost: until then the storage may be away, or restored.
MOST_TIME_WITHOUT_ORIGINAL = timedelta(days=30)


def photo_prepare(*, photo_id: uuid.UUID) -> None:
    """Make the picture that is shown and its thumbnail, unless that was done or somebody does."""
    _prepare(Photo, photo_id)


def sound_prepare(*, sound_id: uuid.UUID) -> None:
    """Make the recording that is played and measure its taps, unless that was done."""
    _prepare(Sound, sound_id)


def media_sweep() -> None:
    """Send again what was lost: no message is needed for a file to be read in the end."""
    for kind in KINDS:
        for pk in swept(waiting(kind).order_by("pk")):
            broker.send(f"apps.viewings.tasks.prepare_{kind._meta.model_name}", str(pk))


def waiting(kind: type[Photo | Sound]) -> QuerySet[Any]:
    """What is not read yet, and may be tried."""
    return kind._base_manager.filter(kind.UNFINISHED, rested(), group__importing=False)


class NotDecoded(Exception):
    """A decoder failed in a way that says nothing of the file."""


def _prepare(kind: type[Photo | Sound], id: uuid.UUID) -> None:
    lease: Lease[Any] | None = claim(waiting(kind), id)
    if lease is None:
        return
    media: Photo | Sound = lease.job
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
    """The files to be shown, by form, and what is to be stored. Raises `Unreadable`, `NotDecoded`.

    An attempt is counted before it is made, for a file may kill whoever reads it, and taken back
    after: whoever is killed waiting for the storage, or for the database, counts against nobody.
    """
    media: Photo | Sound = lease.job
    if ASKED.exhausted(lease.count_attempt() - 1):
        # Every worker that tried died of it: a file must not kill its readers for ever.
        raise Unreadable(Media.Fault.GAVE_UP)
    try:
        decoded = _photo(media, file) if isinstance(media, Photo) else _sound(file)
    except Unreadable:
        raise
    except Exception as error:
        raise NotDecoded(f"{type(error).__name__}: {error}") from error
    lease.heartbeat(attempts=0)
    return decoded


def _photo(photo: Photo, file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    picture = picture_read(file)
    found = {
        "width": picture.width,
        "height": picture.height,
        # What came with an archive was written anew once, and only its record says when.
        "taken_at": picture.taken_at or photo.taken_at,
    }
    return {"image": picture.image, "thumbnail": picture.thumbnail}, found


def _sound(file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    heard = recording_read(file)
    found = {"duration_s": heard.duration_s, "rate_hz": heard.rate_hz, "taps": heard.taps}
    return {"recording": heard.recording}, found


def _try_again(lease: Lease[Any], error: NotDecoded) -> None:
    """After some attempts nobody tries any more; the file is kept."""
    log.exception("%s %s was not decoded", lease.job._meta.label, lease.job.pk)
    if not lease.fail(error, ASKED, counted=True):
        _store(lease.job, state=Media.State.REJECTED, fault=Media.Fault.GAVE_UP)


def _wait_for_storage(lease: Lease[Any], error: StorageFailed) -> None:
    """Keep what came and try again later. This is no attempt at the file."""
    media: Photo | Sound = lease.job
    failed_for = wait_for_storage(lease, error, version=F("version") + 1, updated_at=timezone.now())
    log.exception("the storage fails %s %s, for %s", media._meta.label, media.pk, failed_for)
    if error.file_missing and failed_for > MOST_TIME_WITHOUT_ORIGINAL:
        _store(media, state=Media.State.REJECTED, fault=Media.Fault.GAVE_UP)


def _still_processing(media: Photo | Sound) -> Photo | Sound | None:
    """The record, locked; None if it was removed or somebody else was quicker."""
    return (
        type(media)
        ._base_manager.select_for_update(of=("self",), no_key=True)
        .select_related("viewing__candidate__list", "submission")
        .filter(pk=media.pk, state=Media.State.PROCESSING)
        .first()
    )


@transaction.atomic
def _store(media: Photo | Sound, **found: Any) -> None:
    """Store what was found, unless it was removed or somebody else was quicker."""
    stored = _still_processing(media)
    if stored is None:
        return
    found |= FREE | {"storage_failing_since": None}
    for name, value in found.items():
        setattr(stored, name, value)
    stored.save_changes(fields=list(found))
    if isinstance(stored, Sound):
        # Also of a draft: it may have been submitted while the recording was read.
        inputs_changed(stored.viewing.candidate.list_id)
    media_event_record(stored.state, stored, None)
    transaction.on_commit(lambda: files_remove(stored.surplus_keys), robust=True)
