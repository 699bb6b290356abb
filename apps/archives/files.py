"""Stores archives in the media storage, under names that the media's own sweep ignores."""

import hashlib
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from typing import IO

from django.core.files import File
from django.core.files.storage import Storage, storages

from apps.common.errors import StorageFailed, storage_at_work

SPOOLED = 16 * 1024 * 1024  # bytes kept in memory before a temporary file is used


def storage() -> Storage:
    return storages["media"]


def spool() -> IO[bytes]:
    """A temporary file that is deleted when it is closed."""
    return tempfile.SpooledTemporaryFile(max_size=SPOOLED)


def file_store(key: str, file: IO[bytes]) -> tuple[int, str]:
    """Write the file under this key, replacing another; return size and SHA-256 (hex).

    Raises `StorageFailed`.
    """
    digest, size = hashlib.sha256(), 0
    file.seek(0)
    while chunk := file.read(1024 * 1024):
        digest.update(chunk)
        size += len(chunk)
    file.seek(0)
    try:
        with storage_at_work():
            if storage().save(key, File(file)) != key:
                raise RuntimeError("the storage must overwrite, not rename")
    except StorageFailed:
        with suppress(Exception):
            files_remove([key])  # what was written of it takes room
        raise
    return size, digest.hexdigest()


def file_open(key: str) -> "File[bytes]":
    return storage().open(key, "rb")


@contextmanager
def file_fetched(key: str) -> Iterator[IO[bytes]]:
    """A local copy, so that later errors are not the storage's.

    Raises `StorageFailed`.
    """
    with spool() as copy:
        with storage_at_work(), file_open(key) as file:
            shutil.copyfileobj(file, copy, 1024 * 1024)
        copy.seek(0)
        yield copy


def files_remove(keys: Iterable[str]) -> None:
    for key in keys:
        storage().delete(key)
