"""What a backup contains: a file in JSON, with the checksum of every other file."""

import hashlib
import json
import re
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

FORM = 1
NAME = re.compile(r"\d{8}T\d{6}Z")  # of a whole backup: when it was made, in UTC
MANIFEST, MEDIA = "manifest.json", "media"


class BackupFailed(Exception):
    """A backup cannot be made, or is not as its manifest says; the text is for operators."""


@dataclass(frozen=True)
class StoredFile:
    """sha256: in hexadecimal digits."""

    bytes: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """tables: their rows. media: by key of the storage. missing: keys of files that were lost."""

    made_at: str
    service: str
    vendor: str
    migrations: list[str]
    database: str
    database_file: StoredFile
    tables: dict[str, int]
    media: dict[str, StoredFile] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    form: int = FORM

    def write(self, backup: Path) -> None:
        (backup / MANIFEST).write_text(json.dumps(asdict(self), indent=1) + "\n")

    def faults(self, backup: Path) -> Iterator[str]:
        """Which files are not as they were written. Reads all of them."""
        named = {self.database: self.database_file}
        named |= {f"{MEDIA}/{key}": file for key, file in self.media.items()}
        for name, file in named.items():
            try:
                with (backup / name).open("rb") as stored:
                    found = digest_of(stored)
            except OSError as error:
                yield f"{name}: {error.strerror}"
            else:
                if found != file:
                    yield f"{name}: it is not as it was written (SHA-256)"


def manifest_read(backup: Path) -> Manifest:
    """Raises `BackupFailed`."""
    try:
        found = json.loads((backup / MANIFEST).read_text())
        if found["form"] != FORM:
            raise BackupFailed(f"{backup} has form {found['form']}; this version reads {FORM}.")
        found["database_file"] = StoredFile(**found["database_file"])
        found["media"] = {key: StoredFile(**file) for key, file in found["media"].items()}
        return Manifest(**found)
    except OSError as error:
        raise BackupFailed(f"{backup} is no backup: {error.strerror}: {MANIFEST}") from error
    except (ValueError, TypeError, KeyError) as error:
        raise BackupFailed(f"{backup / MANIFEST} is damaged: {error}") from error


def backups_in(folder: Path) -> list[Path]:
    """The whole backups, oldest first."""
    found = [path for path in folder.iterdir() if NAME.fullmatch(path.name)]
    return sorted(path for path in found if (path / MANIFEST).is_file())


def digest_of(file: IO[bytes]) -> StoredFile:
    digest, size = hashlib.sha256(), 0
    while chunk := file.read(1024 * 1024):
        digest.update(chunk)
        size += len(chunk)
    return StoredFile(size, digest.hexdigest())


def service_version() -> str:
    found = tomllib.loads((settings.BASE_DIR / "pyproject.toml").read_text())
    return str(found["project"]["version"])


def migrations_applied() -> list[str]:
    return sorted(".".join(key) for key in MigrationRecorder(connection).applied_migrations())


def migrations_known() -> list[str]:
    """All migrations of this version of the service."""
    return sorted(".".join(key) for key in MigrationLoader(None).disk_migrations)
