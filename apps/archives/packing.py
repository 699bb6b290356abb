"""Writes an archive's file, and reads one without trusting its own statements."""

import hashlib
import json
import struct
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import IO, Any

from apps.archives.collecting import Collected, Row
from apps.archives.kinds import KINDS, ArchivedKind
from apps.common.errors import ServiceError, StorageFailed, storage_at_work
from apps.common.plain_values import plain
from apps.common.wording import NOT_A_SURVEY
from apps.viewings.media.files import file_open

FORMAT = "hardstand archive"
VERSION = 2
MANIFEST = "manifest.json"

# The limit of an unpacked archive; a few kilobytes can unpack to gigabytes.
MOST_ENTRIES = 20_000
LARGEST_MANIFEST = 16 * 1024 * 1024  # bytes, for the digest of each entry
LARGEST_ROWS = 64 * 1024 * 1024  # bytes, one kind of rows
LARGEST_FILE = 64 * 1024 * 1024  # bytes, one photo or sound
CHUNK = 1024 * 1024


@dataclass(frozen=True)
class ArchiveFault:
    """One fault of an archive; line 0: the whole file, field "": the whole line."""

    file: str
    line: int
    field: str
    code: str
    detail: str


class ArchiveInvalid(ServiceError):
    """The archive cannot be accepted; each fault has its place."""

    def __init__(self, faults: list[ArchiveFault]) -> None:
        self.faults = faults

    @classmethod
    def of(cls, file: str, code: str, detail: str) -> "ArchiveInvalid":
        return cls([ArchiveFault(file, 0, "", code, detail)])


# --- Writing -------------------------------------------------------------------------------------


def archive_write(collected: Collected, out: IO[bytes], made_at: datetime) -> dict[str, int]:
    """Write the archive; return the number of rows of each kind.

    A file that was removed after the rows were read is left out and counted.
    """
    digests: dict[str, str] = {}
    left_out = dict(collected.left_out)
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for kind in KINDS:
            if kind.file:
                there = list(_files_write(packed, kind, collected.rows[kind.name], digests))
                if missing := len(collected.rows[kind.name]) - len(there):
                    left_out[kind.name] = left_out.get(kind.name, 0) + missing
                collected.rows[kind.name] = there
        for name, rows in collected.rows.items():
            file_name = f"{name}.jsonl"
            content = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows).encode()
            digests[file_name] = hashlib.sha256(content).hexdigest()
            packed.writestr(file_name, content)
        counts = {name: len(rows) for name, rows in collected.rows.items()}
        manifest = {
            "format": FORMAT,
            "version": VERSION,
            "of": collected.of,
            "subject": collected.subject,
            "made_at": plain(made_at),
            "caution": NOT_A_SURVEY,
            "email_salt": collected.email_salt,
            "counts": counts,
            "left_out": left_out,
            "sha256": digests,
        }
        packed.writestr(MANIFEST, json.dumps(manifest, ensure_ascii=False, indent=1))
    collected.left_out = left_out
    return counts


def _files_write(
    packed: zipfile.ZipFile, kind: ArchivedKind, rows: list[Row], digests: dict[str, str]
) -> Iterator[Row]:
    """Add the file of each row; yield the rows whose file exists."""
    ids = [row["id"] for row in rows]
    media = {str(one.pk): one for one in kind.media._base_manager.filter(pk__in=ids)}
    for row in rows:
        try:
            file = file_open(media[row["id"]], kind.form_of(row))
        except (KeyError, FileNotFoundError):
            continue
        except Exception as error:  # leaving it out would hide that it existed
            raise StorageFailed from error
        name, digest = kind.media_name(row), hashlib.sha256()
        # Pictures and recordings are compressed already.
        entry = zipfile.ZipInfo(name)
        entry.compress_type = zipfile.ZIP_STORED
        with storage_at_work(), file, packed.open(entry, "w") as written:
            while chunk := file.read(CHUNK):
                digest.update(chunk)
                written.write(chunk)
        digests[name] = digest.hexdigest()
        yield row


# --- Reading -------------------------------------------------------------------------------------


# What the library raises for bytes that are no ZIP file, or one of a later or a broken kind. Not
# `OSError`: that is the storage's fault.
NO_ZIP = (zipfile.BadZipFile, NotImplementedError, struct.error, ValueError, OverflowError)


class Archive:
    """An archive that was sent. Everything read from it has a limit and is checked by digest."""

    def __init__(self, file: IO[bytes]) -> None:
        """Raises `ArchiveInvalid` if this service cannot read it."""
        try:
            self._packed = zipfile.ZipFile(file)
        except NO_ZIP as error:
            raise ArchiveInvalid.of("", "no_archive", "This is no ZIP file.") from error
        self._entries = {entry.filename: entry for entry in self._packed.infolist()}
        if len(self._entries) > MOST_ENTRIES:
            raise ArchiveInvalid.of("", "too_many_entries", f"At most {MOST_ENTRIES} files.")
        self.manifest = self._manifest()
        self._digests: Mapping[str, str] = self.manifest["sha256"]
        self._require_complete()

    @property
    def subject_name(self) -> str:
        name = self.manifest["subject"].get("name")
        return name if isinstance(name, str) else ""

    def rows(self, name: str) -> Iterator[tuple[int, Row]]:
        """Line number and row of each line. Raises `ArchiveInvalid` at the first invalid line."""
        file_name = f"{name}.jsonl"
        content = self.read(file_name, LARGEST_ROWS)
        for number, line in enumerate(content.split(b"\n"), start=1):
            if not line.strip():
                continue
            row = _json(line)
            if not isinstance(row, dict):
                raise ArchiveInvalid(
                    [
                        ArchiveFault(
                            file_name, number, "", "unreadable", "This line is no JSON object."
                        )
                    ]
                )
            yield number, row

    def has(self, file_name: str) -> bool:
        return file_name in self._digests

    def read(self, file_name: str, largest: int = LARGEST_FILE) -> bytes:
        """A file's content. Raises `ArchiveInvalid` if missing, too large or unlike the
        manifest."""
        content = self._read(file_name, largest)
        if hashlib.sha256(content).hexdigest() != self._digests[file_name]:
            raise ArchiveInvalid.of(file_name, "damaged", "It is not what the manifest says.")
        return content

    def _read(self, file_name: str, largest: int) -> bytes:
        if file_name not in self._entries:
            raise ArchiveInvalid.of(file_name, "missing", "The archive does not hold it.")
        try:
            with self._packed.open(self._entries[file_name]) as packed:
                content = packed.read(largest + 1)
        except Exception as error:  # decompressors raise various errors
            raise ArchiveInvalid.of(file_name, "damaged", "It cannot be unpacked.") from error
        if len(content) > largest:
            raise ArchiveInvalid.of(file_name, "too_large", f"At most {largest} bytes.")
        return content

    def _manifest(self) -> dict[str, Any]:
        manifest = _json(self._read(MANIFEST, LARGEST_MANIFEST))
        if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
            raise ArchiveInvalid.of(MANIFEST, "no_archive", "This is no archive of this service.")
        if manifest.get("version") != VERSION:
            raise ArchiveInvalid.of(
                MANIFEST,
                "unknown_version",
                f"Only version {VERSION} of the format is read here. Import it into the version of "
                "the service that made it.",
            )
        shapes = {"of": str, "subject": dict, "email_salt": str, "counts": dict, "sha256": dict}
        for name, shape in shapes.items():
            if not isinstance(manifest.get(name), shape):
                raise ArchiveInvalid.of(MANIFEST, "invalid", f"{name!r} is missing or no {shape}.")
        return manifest

    def _require_complete(self) -> None:
        listed = {MANIFEST, *self._digests}
        for name in sorted(listed ^ set(self._entries)):
            raise ArchiveInvalid.of(name, "unlisted", "The manifest and the files do not agree.")


def _json(text: bytes) -> Any:
    """The value, or None for invalid JSON and JSON that a database cannot store."""
    try:
        value = json.loads(text, parse_constant=_no_number)
        json.dumps(value, ensure_ascii=False).encode()  # not with half a surrogate pair in it
        return None if _holds_nul(value) else value
    except (ValueError, RecursionError):
        return None


def _holds_nul(value: Any) -> bool:
    match value:
        case str():
            return "\x00" in value
        case list():
            return any(map(_holds_nul, value))
        case dict():
            return any(map(_holds_nul, (*value, *value.values())))
    return False


def _no_number(name: str) -> None:
    raise ValueError(f"{name} is no number")
