"""Reading what was sent, in a worker: decoded, written anew, measured. Safe to repeat.

The database is the record of what is not read yet: state `processing`. A message to a worker is
only a hint. Whoever gets it claims the record's lease by one conditional update; files are written
under names that follow from the record, so whoever does it again writes the same ones.
"""

import logging
import uuid
from datetime import timedelta
from typing import IO, Any

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from apps.boats.revisions import inputs_changed
from apps.common.broker import broker
from apps.common.errors import StorageFailed
from apps.viewings.media.files import KINDS, file_read, file_store, files_remove
from apps.viewings.media.models import Media, Photo, Sound
from apps.viewings.media.pictures import picture_read
from apps.viewings.media.reading import Unreadable
from apps.viewings.media.recordings import recording_read
from apps.viewings.media.services import media_event_record

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=5)  # as long as a task may take (CELERY_TASK_TIME_LIMIT)
FIRST_RETRY, LONGEST_WAIT = timedelta(seconds=10), timedelta(hours=1)
# A file that kills its reader must not kill it for ever.
MOST_ATTEMPTS = 5
# What has not come back by then is lost: until then the storage may be away, or restored.
MOST_TIME_WITHOUT_ORIGINAL = timedelta(days=30)
MOST_SWEPT = 200


def photo_prepare(*, photo_id: uuid.UUID) -> None:
    """Make the picture that is shown and its thumbnail, unless that was done or somebody does."""
    _prepare(Photo, photo_id)


def sound_prepare(*, sound_id: uuid.UUID) -> None:
    """Make the recording that is played and measure its taps, unless that was done."""
    _prepare(Sound, sound_id)


def media_sweep() -> None:
    """Send again what was lost: no message is needed for a file to be read in the end."""
    for kind in KINDS:
        for pk in waiting(kind).order_by("pk").values_list("pk", flat=True)[:MOST_SWEPT]:
            broker.send(f"apps.viewings.tasks.prepare_{kind._meta.model_name}", str(pk))


def waiting(kind: type[Photo | Sound]) -> QuerySet[Any]:
    """What is not read yet and what nobody is reading."""
    free = Q(leased_until=None) | Q(leased_until__lte=timezone.now())
    return kind._base_manager.filter(free, state=Media.State.PROCESSING, group__importing=False)


class NotDecoded(Exception):
    """A decoder failed in a way that says nothing of the file."""


def _prepare(kind: type[Photo | Sound], id: uuid.UUID) -> None:
    if not waiting(kind).filter(pk=id).update(leased_until=timezone.now() + LEASE):
        return
    media = kind._base_manager.get(pk=id)
    try:
        files, found = _decode(media, file_read(media, "original"))
        for form, content in files.items():
            file_store(media, form, content)
        _store(media, state=Media.State.READY, **found)
    except StorageFailed as failed:
        _wait_for_storage(media, failed)
    except Unreadable as refused:
        _store(media, state=Media.State.REJECTED, fault=refused.fault)
    except NotDecoded:
        _try_again(media)


def _decode(media: Photo | Sound, file: IO[bytes]) -> tuple[dict[str, bytes], dict[str, Any]]:
    """The files to be shown, by form, and what is to be stored. Raises `Unreadable`, `NotDecoded`.

    An attempt is counted before it is made, for a file may kill whoever reads it, and taken back
    after: whoever is killed waiting for the storage, or for the database, counts against nobody.
    """
    rows = type(media)._base_manager.filter(pk=media.pk)
    rows.update(attempts=F("attempts") + 1)
    media.attempts += 1
    if media.attempts > MOST_ATTEMPTS:
        raise Unreadable(Media.Fault.GAVE_UP)  # every worker that tried died of it
    try:
        decoded = _photo(media, file) if isinstance(media, Photo) else _sound(file)
    except Unreadable:
        raise
    except Exception as error:
        raise NotDecoded from error
    rows.update(attempts=0)
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


def _try_again(media: Photo | Sound) -> None:
    """After some attempts nobody tries any more; the file is kept."""
    log.exception("%s %s was not decoded (attempt %s)", media._meta.label, media.pk, media.attempts)
    if media.attempts >= MOST_ATTEMPTS:
        _store(media, state=Media.State.REJECTED, fault=Media.Fault.GAVE_UP)
        return
    wait = FIRST_RETRY * 2**media.attempts
    type(media)._base_manager.filter(pk=media.pk).update(leased_until=timezone.now() + wait)


@transaction.atomic
def _wait_for_storage(media: Photo | Sound, failed: StorageFailed) -> None:
    """Keep what came and try again later: first soon, then after as long as it has failed so far.

    This is no attempt at the file.
    """
    stored = _still_processing(media)
    if stored is None:
        return
    now = timezone.now()
    since = stored.storage_failing_since or now
    log.error("the storage failed for %s %s, since %s", type(media).__name__, media.pk, since,
              exc_info=failed)  # fmt: skip
    if failed.file_missing and now - since > MOST_TIME_WITHOUT_ORIGINAL:
        _store(media, state=Media.State.REJECTED, fault=Media.Fault.GAVE_UP)
        return
    if stored.storage_failing_since is None:
        stored.storage_failing_since = now
        stored.save_changes(fields=["storage_failing_since"])
    wait = min(max(now - since, FIRST_RETRY), LONGEST_WAIT)
    type(media)._base_manager.filter(pk=media.pk).update(leased_until=now + wait)


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
    for name, value in {**found, "storage_failing_since": None}.items():
        setattr(stored, name, value)
    stored.save_changes(fields=[*found, "storage_failing_since"])
    if isinstance(stored, Sound):
        # Also of a draft: it may have been submitted while the recording was read.
        inputs_changed(stored.viewing.candidate.list_id)
    media_event_record(stored.state, stored, None)
    transaction.on_commit(lambda: files_remove(stored.surplus_keys), robust=True)
