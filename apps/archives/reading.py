"""Makes unsaved records from the rows of an archive, and checks each value.

All ids are new. A row may refer only to rows of the same archive, to the catalogue, and to people
in the archive, so it cannot reach anybody else's data.
"""

import math
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import ForeignKey, ManyToManyField, Model
from django.utils import timezone

from apps.accounts.models import Person
from apps.archives.checks import kind_faults, shape_faults
from apps.archives.collecting import Row
from apps.archives.kinds import KINDS, ArchivedKind
from apps.archives.packing import Archive, ArchiveFault, ArchiveInvalid
from apps.boats.models import Ballot, Candidate
from apps.catalogue.models import Checkpoint, CheckpointVersion, Remedy
from apps.catalogue.own.bringing import Brought, is_own_code, too_many, wording_read
from apps.catalogue.own.models import CatalogueChange

MOST_ROWS = 200_000
MOST_FAULTS = 100  # reported at once; a file with more is probably of another kind


@dataclass
class ReadRecords:
    """Records by kind in the order of their lines, many-to-many links, and notes on differences."""

    records: dict[str, list[Any]] = field(default_factory=dict)
    links: dict["ManyToManyField[Any, Any]", list[tuple[uuid.UUID, uuid.UUID]]] = field(
        default_factory=dict
    )
    files: list[tuple[ArchivedKind, Any, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    # Codes of clubs and groups, which may be unknown to this service.
    codes: dict[type[Model], set[str]] = field(default_factory=dict)


def records_read(archive: Archive, people: Mapping[str, Person], at: datetime) -> ReadRecords:
    """All records of a group's archive, with ids made with this time.

    Raises `ArchiveInvalid` with up to `MOST_FAULTS` faults.
    """
    return _Reader(archive, people, at).read()


class _Reader:
    def __init__(self, archive: Archive, people: Mapping[str, Person], at: datetime) -> None:
        self.archive = archive
        self.at = at
        self.people = people
        self.faults: list[ArchiveFault] = []
        self.found = ReadRecords()
        self.known: dict[type[Model], dict[str, Any]] = {}  # by model and old id
        self.codes: dict[type[Model], set[str]] = {
            model: set(model._base_manager.values_list("pk", flat=True))
            for model in (Checkpoint, Remedy)
        }
        self.versions: dict[tuple[str, str], Any] = {
            (version.checkpoint_id, version.digest): version.pk
            for version in CheckpointVersion.objects.only("checkpoint_id", "digest")
        }
        self.current = dict(Checkpoint.objects.values_list("code", "current"))
        self.other_versions: set[str] = set()

    def read(self) -> ReadRecords:
        kinds = {
            kind: list(self.archive.rows(kind.name))
            for kind in KINDS
            if not kind.later or self.archive.has(kind.file_name)
        }
        if sum(map(len, kinds.values())) > MOST_ROWS:
            raise ArchiveInvalid.of("", "too_many_rows", f"At most {MOST_ROWS} rows.")
        for kind, rows in kinds.items():
            self._name_anew(kind, rows)
        for kind, rows in kinds.items():
            self.found.records[kind.name] = [self._record(kind, *line) for line in rows]
            if kind.model is CheckpointVersion:
                self._know_wordings(kind, rows)
        if not self.faults:
            self._check_together(kinds)
        if self.faults:
            raise ArchiveInvalid(self.faults[:MOST_FAULTS])
        if self.other_versions:
            codes = ", ".join(sorted(self.other_versions))
            self.found.notes.append(
                "Findings on these checkpoints were made against wordings that this service does "
                f"not have; they count for the current ones: {codes}."
            )
        return self.found

    # --- Ids ---------------------------------------------------------------------------------

    def _name_anew(self, kind: ArchivedKind, rows: list[tuple[int, Row]]) -> None:
        """Make a new id for each record, by its old one."""
        if "id" not in kind.fields:
            return
        old = {}
        for line, row in rows:
            try:
                old[str(uuid.UUID(row["id"]))] = line
            except (KeyError, TypeError, ValueError, AttributeError):
                self._fault(kind, line, "id", "invalid", "This is not an id.")
        if len(old) < len(rows) and not self.faults:
            self._fault(kind, 0, "id", "named_twice", "Two rows have the same id.")
        made = dict(zip(sorted(old), new_ids(sorted(old), self.at), strict=True))
        self.known[kind.model] = {one: kind.model(pk=made[one]) for one in old}

    # --- One row -----------------------------------------------------------------------------

    def _record(self, kind: ArchivedKind, line: int, row: Row) -> Any:
        record = self.known.get(kind.model, {}).get(str(row.get("id")).lower()) or kind.model()
        taken = [name for name in kind.fields if name != "id" and name not in kind.computed]
        for name in row.keys() - set(kind.fields):
            self._fault(kind, line, name, "unknown_field", "The format has no such field.")
        for name in taken:
            if name not in row and name in kind.later_fields:
                continue
            if name not in row:
                self._fault(kind, line, name, "missing", "This field is missing.")
                continue
            try:
                self._set(kind, record, line, name, row[name])
            except Wrong as wrong:
                self._fault(kind, line, name, wrong.code, wrong.detail)
        if kind.file:
            self.found.files.append((kind, record, kind.media_name(row)))
        return record

    def _set(self, kind: ArchivedKind, record: Any, line: int, name: str, value: Any) -> None:
        """Put one value on the record. Raises `Wrong`."""
        of = kind.model._meta.get_field(name)
        if isinstance(of, ManyToManyField):
            people = [self._person(one) for one in _list(value)]
            linked = dict.fromkeys(person.pk for person in people)
            self.found.links.setdefault(of, []).extend((record.pk, one) for one in linked)
        elif isinstance(of, ForeignKey):
            if value is None and of.null:
                return
            by_code = of.related_model in (*self.codes, CheckpointVersion)
            referred = self._referred(of, record, value)
            by_code = by_code and not isinstance(referred, Model)
            setattr(record, of.attname if by_code else name, referred)
        elif kind.model is Ballot and name == "ranks":
            record.ranks = [
                [str(self._ranked(record, one).pk) for one in _list(tier)] for tier in _list(value)
            ]
        else:
            setattr(record, name, _value(of, value))
            for code, detail in shape_faults(kind, name, getattr(record, name)):
                raise Wrong(code, detail)

    def _ranked(self, ballot: Ballot, value: Any) -> Candidate:
        candidate: Candidate = _known(self.known[Candidate], value)
        if candidate.list_id != ballot.list_id:
            raise Wrong("not_on_the_list", "A ballot ranks candidates of its own list.")
        return candidate

    def _referred(self, of: "ForeignKey[Any, Any]", record: Any, value: Any) -> Any:
        model = of.related_model
        if model is Person:
            return self._person(value)
        if model in self.codes:
            return self._code(model, value)
        if model is CheckpointVersion:
            return self._version(record, value)
        return _known(self.known.get(model, {}), value)

    def _person(self, value: Any) -> Person:
        person: Person = _known(self.people, value)
        return person

    def _code(self, model: type[Model], value: Any) -> str:
        """A code of the catalogue, or one of a club or a group."""
        if isinstance(value, str) and is_own_code(value):
            self.found.codes.setdefault(model, set()).add(value)
        elif not isinstance(value, str) or value not in self.codes[model]:
            raise Wrong("unknown_code", f"The catalogue has no {value!r}.")
        return value

    def _know_wordings(self, kind: ArchivedKind, rows: list[tuple[int, Row]]) -> None:
        """Register the archive's wordings, which findings keep, also a club's."""
        brought = Brought()
        for (line, _), record in zip(rows, self.found.records[kind.name], strict=True):
            for name, code, detail in wording_read(record, brought):
                self._fault(kind, line, name, code, detail)
            self.versions[record.checkpoint_id, record.digest] = record

    def _version(self, record: Any, digest: Any) -> Any:
        """The version with the same wording; if there is none, the current one, with a note.

        The wording of a change of the group's catalogue must exist.
        """
        changes = isinstance(record, CatalogueChange)
        checkpoint = record.code if changes else record.checkpoint_id
        version = self.versions.get((checkpoint, str(digest)))
        if changes and not isinstance(version, CheckpointVersion):
            raise Wrong("unknown_version", "The archive has no such wording.")
        if version is None:
            version = self.current.get(checkpoint)
            if version is None:
                raise Wrong("unknown_version", "The catalogue has no such version of it.")
            self.other_versions.add(checkpoint)
        return version

    # --- Rows together -----------------------------------------------------------------------

    def _check_together(self, kinds: Mapping[ArchivedKind, list[tuple[int, Row]]]) -> None:
        if too_many(self.found.records.get("catalogue_changes", ())):
            raise ArchiveInvalid.of("catalogue_changes.jsonl", "too_many_rows", "Too many entries.")
        for kind, rows in kinds.items():
            for (line, _), record in zip(rows, self.found.records[kind.name], strict=True):
                for name, code, detail in kind_faults(kind, record):
                    self._fault(kind, line, name, code, detail)

    def _fault(self, kind: ArchivedKind, line: int, name: str, code: str, detail: str) -> None:
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(ArchiveFault(kind.file_name, line, name, code, detail))


@dataclass(eq=False)
class Wrong(Exception):
    """One value cannot be accepted."""

    code: str
    detail: str


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise Wrong("invalid", "A list is needed here.")
    return value


def _known(records: Mapping[str, Any], value: Any) -> Any:
    found = records.get(value.lower()) if isinstance(value, str) else None
    if found is None:
        raise Wrong("unknown_reference", f"The archive has no such row: {value}.")
    return found


# The JSON type of a field, and its name in messages.
JSON_TYPES: tuple[tuple["type[models.Field[Any, Any]]", tuple[type, ...], str], ...] = (
    (models.BooleanField, (bool,), "true or false"),
    (models.IntegerField, (int,), "a whole number"),
    (models.FloatField, (int, float), "a number"),
    (models.Field, (str,), "text"),
)


def _value(of: Any, value: Any) -> Any:
    """The value for the field. Raises `Wrong` if the field does not accept it."""
    if isinstance(of, models.JSONField):
        return value
    if value is None and of.null:
        return None
    types, called = next(
        (types, called) for kind, types, called in JSON_TYPES if isinstance(of, kind)
    )
    if not isinstance(value, types) or (isinstance(value, bool) and bool not in types):
        raise Wrong("invalid", f"{called} is needed here.")
    try:
        found = of.clean(value, None)
    except ValidationError as error:
        code = error.error_list[0].code or "invalid"
        raise Wrong(code, " ".join(error.messages)) from error
    except (TypeError, ValueError, OverflowError) as error:
        raise Wrong("invalid", "This value cannot stand here.") from error
    if isinstance(found, datetime) and timezone.is_naive(found):
        raise Wrong("invalid", "A time says where it counts from: 2025-03-01T10:00:00Z.")
    if isinstance(found, float | Decimal) and not math.isfinite(found):
        raise Wrong("invalid", "This is not a number.")
    return found


def new_ids(old: Iterable[str], at: datetime) -> list[uuid.UUID]:
    """New UUIDv7s (RFC 9562) in the order of the old ids; the same time gives the same ids.

    The time is the import's; the twelve bits after it count within the millisecond (method 1 of
    section 6.2). The lower half stays, because it seeds a boat's draws: an imported group gets the
    same figures.
    """
    now_ms = int(at.timestamp() * 1000)
    made = []
    for count, one in enumerate(old):
        upper = (now_ms + (count >> 12)) << 16 | 0x7000 | (count & 0xFFF)
        lower = uuid.UUID(one).int & 0xFFFF_FFFF_FFFF_FFFF
        made.append(uuid.UUID(int=upper << 64 | lower))
    return made
