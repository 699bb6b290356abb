"""Stores and removes files, in a folder or an S3-like store, and finds files without a record."""

import io
import logging
import uuid
from collections.abc import Collection, Iterable, Iterator
from datetime import timedelta
from typing import IO

from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import Storage, storages
from django.db import transaction
from django.utils import timezone

from apps.common.errors import StorageFailed, storage_at_work
from apps.common.processes.locks import is_held
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.models import Media, OrphanFile, Photo, SellerPhoto, Sound

log = logging.getLogger(__name__)

KINDS: tuple[type[Media], ...] = (Photo, Sound, SellerPhoto, GateDocument)
# How long a file without a record is kept: a database may be restored after its files.
QUARANTINE = timedelta(days=30)
# More orphans than this at once mean that records are missing.
FEW_FILES, SMALL_SHARE = 20, 0.05
# While this lock is held no file is removed: a backup copies the database first, then its files.
REMOVALS_WAIT = "backup"


class TooManyOrphans(Exception):
    """Nothing was removed: so many files without a record suggest that records were lost."""


def storage() -> Storage:
    return storages["media"]


def file_store(media: Media, form: str, content: bytes | IO[bytes]) -> None:
    """Write the file in this form, replacing an older one. Raises `StorageFailed`."""
    file = ContentFile(content) if isinstance(content, bytes) else File(content)
    key = media.key(form)
    try:
        with storage_at_work():
            if storage().save(key, file) != key:
                raise RuntimeError("the storage must overwrite, not rename")
    except StorageFailed:
        files_remove([key])  # what was written of it takes room
        raise


def file_read(media: Media, form: str) -> IO[bytes]:
    """The whole file in memory, so that no later read fails. Raises `StorageFailed`."""
    with storage_at_work(), file_open(media, form) as file:
        return io.BytesIO(file.read())


def file_open(media: Media, form: str) -> "File[bytes]":
    """Raises FileNotFoundError if there is none."""
    return storage().open(media.key(form), "rb")


def keys_required() -> Iterator[str]:
    """The keys of all files that cannot be made again."""
    for kind in KINDS:
        for media in kind._base_manager.order_by("pk").iterator():
            yield from map(media.key, media.forms_required)


def files_remove(keys: Iterable[str]) -> None:
    """Remove the files; the sweep removes those that cannot be removed now."""
    keys = list(keys)
    if keys and is_held(REMOVALS_WAIT):
        _leave_for_next_sweep(keys)
        return
    for key in keys:
        try:
            storage().delete(key)
        except Exception:
            log.warning("a file stays behind for the sweep: %s", key, exc_info=True)


def _leave_for_next_sweep(keys: Collection[str]) -> None:
    """Note files whose removal has to wait for the next sweep only, without quarantine."""
    OrphanFile.objects.bulk_create([OrphanFile(key=key) for key in keys], ignore_conflicts=True)
    noted = OrphanFile.objects.filter(key__in=keys)
    noted.update(found_at=timezone.now() - QUARANTINE)


def files_prune(media: Iterable[Media]) -> None:
    """Remove the files of these records after the commit. Call it before removing the records."""
    keys = [one.key(form) for one in media for form in one.FORMS]
    if keys:
        transaction.on_commit(lambda: files_remove(keys), robust=True)


def files_sweep(*, however_many: bool = False) -> int:
    """Remove files that no record has needed for `QUARANTINE`; returns how many.

    A file without a record is noted when first seen, and removed if it still has none when its
    quarantine ends. Unless `however_many`, raises `TooManyOrphans` and removes nothing if that
    would be more than a few files and a small share of all, or half of them. Does nothing during a
    backup.
    """
    if is_held(REMOVALS_WAIT):
        log.info("files without a record stay until the next sweep: a backup is being made")
        return 0
    known, orphans = 0, set[str]()
    for folder in _folders():
        keys = {f"{folder}/{name}" for name in storage().listdir(folder)[1]}
        ours = {key for key in keys if id_in(key)}
        known += len(ours)
        orphans |= ours - _needed_among(ours)
    OrphanFile.objects.exclude(key__in=orphans).delete()
    OrphanFile.objects.bulk_create(
        [OrphanFile(key=key) for key in sorted(orphans)], ignore_conflicts=True
    )
    if _too_many(len(orphans), known):
        log.error(
            "%s of %s files of photos and sounds have no record. Was the database restored from "
            "before they were sent? None is removed before %s days are over.",
            len(orphans),
            known,
            QUARANTINE.days,
        )
    ended = OrphanFile.objects.filter(found_at__lte=timezone.now() - QUARANTINE)
    due = list(ended.values_list("key", flat=True))
    if _too_many(len(due), known) and not however_many:
        raise TooManyOrphans(
            f"{len(due)} of {known} files of photos and sounds have no record. Nothing was "
            "removed. If the database is the right one, run: manage.py sweep_media_files "
            "--however-many"
        )
    for key in due:
        storage().delete(key)
    OrphanFile.objects.filter(key__in=due).delete()
    return len(due)


def _too_many(number: int, files: int) -> bool:
    """Whether too many would go. Half of all always is: a small group has few files."""
    return number > max(FEW_FILES, SMALL_SHARE * files) or 0 < files <= 2 * number


def _folders() -> list[str]:
    try:
        return storage().listdir("")[0]
    except FileNotFoundError:  # nothing was ever kept
        return []


def id_in(key: str) -> uuid.UUID | None:
    """The id of the record that a file belongs to; None for a foreign file."""
    try:
        return uuid.UUID(key.rpartition("/")[2][:36])
    except ValueError:
        return None


def _needed_among(keys: set[str]) -> set[str]:
    ids = {id for key in keys if (id := id_in(key)) is not None}
    return {
        media.key(form)
        for kind in KINDS
        for media in kind._base_manager.filter(pk__in=ids)
        for form in media.forms_kept
    }
