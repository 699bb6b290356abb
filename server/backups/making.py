"""Writes a backup while the service runs."""

import os
import shutil
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from django.db import connection

from apps.common.processes.locks import LockHeld, exclusive
from apps.viewings.media.files import REMOVALS_WAIT, keys_required, storage
from server.backups.databases import database_copy, flush, snapshot, tables
from server.backups.manifest import (
    MEDIA,
    BackupFailed,
    Manifest,
    StoredFile,
    backups_in,
    digest_of,
    manifest_read,
    migrations_applied,
    service_version,
)

UNFINISHED = ".unfinished"


@dataclass(frozen=True)
class Made:
    """linked: how many of the files an earlier backup in the folder had already."""

    path: Path
    manifest: Manifest
    linked: int


@dataclass
class Earlier:
    """The newest earlier backup in the folder, whose files need no second copy."""

    media: dict[str, StoredFile] = field(default_factory=dict)
    folder: Path = Path()

    @classmethod
    def find(cls, folder: Path) -> "Earlier":
        whole = backups_in(folder)
        return cls(manifest_read(whole[-1]).media, whole[-1] / MEDIA) if whole else cls()

    def link(self, key: str, to: Path) -> StoredFile | None:
        """A hard link to the same file: a file of the storage never changes under its key."""
        known = self.media.get(key)
        try:
            if known is None or (self.folder / key).stat().st_size != known.bytes:
                return None
            os.link(self.folder / key, to)
        except OSError:  # it is gone, or the file system has no links
            return None
        return known


def backup_make(folder: Path) -> Made:
    """Write a backup into the folder, under its time as name. Raises `BackupFailed`.

    It is written under another name and renamed when it is whole. No file that the copied database
    needs is removed meanwhile: `files_remove` leaves them for the sweep while the lock is held.
    """
    if not tables():
        raise BackupFailed("The database has no tables. Is it the right one?")
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with exclusive(REMOVALS_WAIT, wait=False):
            unfinished = folder / UNFINISHED
            shutil.rmtree(unfinished, ignore_errors=True)
            unfinished.mkdir(mode=0o700)
            try:
                manifest, linked = _write(unfinished, Earlier.find(folder))
                return Made(_named(unfinished), manifest, linked)
            finally:
                shutil.rmtree(unfinished, ignore_errors=True)
    except LockHeld as held:
        raise BackupFailed("Another backup is being made.") from held
    except OSError as error:
        raise BackupFailed(f"The backup cannot be written: {error}") from error


def backups_prune(folder: Path, *, keep: int) -> list[Path]:
    """Remove all but the newest `keep` backups; at least one stays."""
    surplus = backups_in(folder)[: -max(1, keep)]
    for old in surplus:
        shutil.rmtree(old)
    return surplus


def _write(unfinished: Path, earlier: Earlier) -> tuple[Manifest, int]:
    with snapshot():
        made_at = datetime.now(UTC)
        rows = tables()
        keys = list(keys_required())
        migrations = migrations_applied()
        copy = database_copy(unfinished)
    media, missing, linked = _copy_files(keys, unfinished / MEDIA, earlier)
    with copy.open("rb") as file:
        digest = digest_of(file)
    manifest = Manifest(
        made_at=made_at.isoformat(timespec="seconds"),
        service=service_version(),
        vendor=connection.vendor,
        migrations=migrations,
        database=copy.name,
        database_file=digest,
        tables=rows,
        media=media,
        missing=missing,
    )
    manifest.write(unfinished)
    return manifest, linked


def _copy_files(
    keys: Iterable[str], to: Path, earlier: Earlier
) -> tuple[dict[str, StoredFile], list[str], int]:
    """Copy or link the files: those that are there now, the keys of the others, how many linked."""
    copied: dict[str, StoredFile] = {}
    missing: list[str] = []
    linked = 0
    for key in keys:
        target = to / key
        target.parent.mkdir(parents=True, exist_ok=True)
        known = earlier.link(key, target)
        if known is not None:
            linked += 1
            copied[key] = known
            continue
        try:
            copied[key] = _copy(key, target)
        except FileNotFoundError:
            missing.append(key)
    return copied, missing, linked


def _copy(key: str, target: Path) -> StoredFile:
    with storage().open(key, "rb") as source, target.open("w+b") as copy:
        shutil.copyfileobj(source, copy, 1024 * 1024)
        copy.flush()
        os.fsync(copy.fileno())
        copy.seek(0)
        return digest_of(copy)


def _named(unfinished: Path) -> Path:
    """Rename a whole backup to the present time; wait if this second has one."""
    for folder, _, names in os.walk(unfinished):
        flush(Path(folder))
        if Path(folder) == unfinished:
            for name in names:
                flush(unfinished / name)
    while (to := unfinished.with_name(datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ"))).exists():
        time.sleep(0.1)
    unfinished.rename(to)
    flush(to.parent)
    return to
