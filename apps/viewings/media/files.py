"""Where the files are: one storage, a folder or an S3-like store, and what is in it too much."""

import logging
import uuid
from collections.abc import Iterable
from datetime import timedelta
from typing import IO

from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import Storage, storages
from django.utils import timezone

from apps.viewings.media.models import Media, Photo, Sound

log = logging.getLogger(__name__)

KINDS: tuple[type[Media], ...] = (Photo, Sound)
# A request whose transaction failed leaves its file behind; one that still runs needs it.
LEFT_ALONE = timedelta(days=1)


def storage() -> Storage:
    return storages["media"]


def file_store(media: Media, form: str, content: bytes | IO[bytes]) -> None:
    """Write the file in this form; writing it again replaces it."""
    file = ContentFile(content) if isinstance(content, bytes) else File(content)
    key = media.key(form)
    if storage().save(key, file) != key:
        raise RuntimeError("the storage must overwrite, not rename")


def file_open(media: Media, form: str) -> File:
    """Raises FileNotFoundError if there is none."""
    return storage().open(media.key(form), "rb")


def files_remove(keys: Iterable[str]) -> None:
    """What cannot be removed now the sweep of files will find."""
    for key in keys:
        try:
            storage().delete(key)
        except Exception:
            log.warning("a file stays behind for the sweep: %s", key, exc_info=True)


def files_sweep() -> int:
    """Remove files that no record needs; returns how many."""
    removed = 0
    for folder in _folders():
        keys = {f"{folder}/{name}" for name in storage().listdir(folder)[1]}
        ours = {key for key in keys if id_in(key)}
        for key in ours - _needed_among(ours):
            if timezone.now() - storage().get_modified_time(key) > LEFT_ALONE:
                storage().delete(key)
                removed += 1
    return removed


def _folders() -> list[str]:
    try:
        return storage().listdir("")[0]
    except FileNotFoundError:  # nothing was ever kept
        return []


def id_in(key: str) -> uuid.UUID | None:
    """Of the record that a file belongs to; None for a file that is not one of ours."""
    try:
        return uuid.UUID(key.rpartition("/")[2][:36])
    except ValueError:
        return None


def _needed_among(keys: set[str]) -> set[str]:
    ids = {id_in(key) for key in keys}
    return {
        media.key(form)
        for kind in KINDS
        for media in kind._base_manager.filter(pk__in=ids)
        for form in media.forms_kept
    }
