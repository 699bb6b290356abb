"""Puts a backup into an empty installation, and checks that it is the same."""

import uuid
from collections.abc import Iterator
from pathlib import Path

from django.core.files import File
from django.db import connection

from apps.appraisal.rechecking import lists_to_recheck, parts_unequal
from apps.archives.jobs import archives_without_files_end
from apps.events.retention import cursors_void
from apps.events.webhooks.reencrypting import secrets_reencrypt
from apps.jobs.leases import void_all
from apps.viewings.media.files import storage
from server.backups.databases import COPIES, database_restore, tables
from server.backups.manifest import (
    MEDIA,
    BackupFailed,
    Manifest,
    manifest_read,
    migrations_known,
    service_version,
)


def backup_check(backup: Path) -> Manifest:
    """Compare every file of the backup with its checksum. Raises `BackupFailed`."""
    manifest = manifest_read(backup)
    faults = list(manifest.faults(backup))
    if faults:
        raise BackupFailed("The backup is damaged:\n" + "\n".join(faults))
    return manifest


def backup_restore(backup: Path) -> Manifest:
    """Put the backup into the empty database and storage. Raises `BackupFailed`.

    Everything that could refuse is checked before the first write, and the database comes last: a
    service never runs on half of it.
    """
    manifest = backup_check(backup)
    _require_same(manifest)
    _require_empty()
    for key in manifest.media:
        with (backup / MEDIA / key).open("rb") as file:
            if storage().save(key, File(file)) != key:
                raise BackupFailed(f"The storage has another file at {key}.")
    database_restore(backup / manifest.database)
    _require_rows(manifest)
    archives_without_files_end()
    cursors_void()
    void_all()
    return manifest


def results_unequal() -> Iterator[tuple[uuid.UUID, list[str]]]:
    """Recompute each list whose stored results are up to date; which parts differ, by list."""
    for list_id in lists_to_recheck():
        yield list_id, parts_unequal(list_id)


def secrets_unreadable() -> int:
    """How many encrypted secrets cannot be decrypted with the keys in the settings here."""
    return secrets_reencrypt(only_count=True).unreadable


def _require_same(manifest: Manifest) -> None:
    if manifest.vendor != connection.vendor:
        raise BackupFailed(
            f"The backup is of {manifest.vendor}, the database here is {connection.vendor}. To "
            "move between the two, export the groups' archives and import them."
        )
    if manifest.migrations != migrations_known():
        raise BackupFailed(
            f"The backup was made by version {manifest.service} of the service, with other tables "
            f"than this one ({service_version()}) has. Restore it with that version, then upgrade."
        )


def _require_empty() -> None:
    if tables():
        raise BackupFailed(
            "The database is not empty. Restore into a new database"
            + (": name a new HARDSTAND_DATA_DIR." if connection.vendor in COPIES else ".")
        )
    if any(_folders_and_files()):
        raise BackupFailed(
            "The storage of photos and sounds is not empty. Restore into a new folder or bucket."
        )


def _folders_and_files() -> list[str]:
    try:
        folders, files = storage().listdir("")
    except FileNotFoundError:
        return []
    return [*folders, *files]


def _require_rows(manifest: Manifest) -> None:
    found = tables()
    differing = [
        f"{name}: {found.get(name)} rows instead of {rows}"
        for name, rows in manifest.tables.items()
        if found.get(name) != rows
    ]
    if differing:
        raise BackupFailed("The restored database is not the same:\n" + "\n".join(differing))
