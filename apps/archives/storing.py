"""Stores an archive as a new group, invisible until it is complete.

It takes small steps, so that others can write meanwhile. Each step is one transaction that also
stores the progress: after a crash the next worker continues from there. Until the last step nobody
belongs to the group, and every scope depends on memberships, so readers see all of it or nothing.
"""

import io
import time
import uuid
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import Any

from django.conf import settings
from django.db import DataError, IntegrityError, transaction
from django.db.models import PROTECT, ManyToManyField
from django.utils import timezone

from apps.accounts.models import Person
from apps.archives.kinds import KINDS, ArchivedKind
from apps.archives.packing import Archive, ArchiveInvalid
from apps.archives.people import People, people_read
from apps.archives.reading import ReadRecords, records_read
from apps.boats.revisions import inputs_changed
from apps.catalogue.models import CheckpointVersion
from apps.events.services import event_record
from apps.groups.models import Group, Membership
from apps.records.checking import record_chain_faults
from apps.viewings.media.adding import send_later
from apps.viewings.media.files import file_store, files_prune
from apps.viewings.media.models import Media

BATCH = 200  # rows of one step; some hundredths of a second
# A pause between two steps, so that other writers of SQLite get a turn.
BREATH_SECONDS = 0.02
# Stored first, because others refer to them and they have no ids; and stored last.
FIRST, LAST = CheckpointVersion, Membership


@dataclass
class Progress:
    """The progress of an import.

    recognised: ids here by ids in the archive, None: not decided yet. newcomers: ids of those who
    have no account. wordings: of the first step, in the archive's order. stored: rows after it, in
    the order of `KINDS`.
    """

    begun_at: datetime = field(default_factory=timezone.now)
    group_id: uuid.UUID | None = None
    recognised: dict[str, str] | None = None
    newcomers: list[str] = field(default_factory=list)
    wordings: list[int] = field(default_factory=list)
    stored: int = 0
    done: bool = False

    @property
    def group(self) -> Group:
        assert self.group_id is not None  # the first step sets it
        return Group.objects.get(pk=self.group_id)


# Called in each step's transaction with its progress.
Account = Callable[[Progress], None]


class ImportableArchive:
    """An archive that was read and checked, ready to be stored."""

    def __init__(
        self,
        archive: Archive,
        *,
        by: Person,
        candidates: Iterable[Person],
        progress: Progress | None = None,
    ) -> None:
        """`candidates`: people who may be recognised. Raises `ArchiveInvalid` with all faults."""
        if archive.manifest["of"] != "group":
            raise ArchiveInvalid.of("manifest.json", "no_group", "This is no group's archive.")
        self.archive = archive
        self.by = by
        self.progress = progress or Progress()
        at = self.progress.begun_at
        self.people: People = people_read(archive, candidates, at, self.progress.recognised)
        self.read: ReadRecords = records_read(archive, self.people.by_id, at)
        self.notes = [*self.read.notes, *self._people_notes(), *self._chain_notes()]
        self.files = {media.pk: name for _, media, name in self.read.files}

    @property
    def counts(self) -> dict[str, int]:
        counts = {name: len(records) for name, records in self.read.records.items()}
        return {"people": len(self.people.by_id), **counts}

    def _people_notes(self) -> list[str]:
        names = [person.name for person in self.people.placeholders]
        return [f"Only by name, without an account: {', '.join(names)}."] if names else []

    def _chain_notes(self) -> list[str]:
        """Say where a record does not hold together; it is stored as it is."""
        entries = self.read.records.get("record_entries", [])
        return [
            f"The record of {record.list.name} was changed, entry {fault.number}: {fault.sentence}"
            for record in self.read.records.get("records", [])
            for fault in record_chain_faults(
                record,
                sorted((e for e in entries if e.record_id == record.pk), key=lambda e: e.number),
            )
        ]

    def store(self, *, name: str = "", account: Account = lambda _: None) -> Group:
        """Store the new group with `by` as an organiser, continuing from `progress`. Raises
        `ArchiveInvalid`; `group_discard` then deletes what was stored.
        """
        for step in self._steps(name):
            with transaction.atomic():
                step()
                account(self.progress)
            time.sleep(BREATH_SECONDS)
        return self.progress.group

    def _steps(self, name: str) -> Iterator[Callable[[], None]]:
        if self.progress.group_id is None:
            yield lambda: self._found(name)
        self.group = Group(pk=self.progress.group_id)
        wordings = self.read.records.get("wordings", [])
        for record, pk in zip(wordings, self.progress.wordings, strict=True):
            record.pk, record._state.adding = pk, False
        at = 0
        for kind in KINDS:
            if kind.model in (FIRST, LAST):
                continue
            records = self.read.records.get(kind.name, [])
            for start in range(0, len(records), BATCH):
                batch = records[start : start + BATCH]
                at += len(batch)
                if at > self.progress.stored:
                    self._store_files(kind, batch)
                    yield partial(self._store, kind, batch, at)
        yield self._open

    # --- Steps -------------------------------------------------------------------------------

    def _found(self, name: str) -> None:
        """Store the group without members, and what other rows refer to."""
        group = Group(
            name=(name or self.archive.subject_name)[:120] or "Imported group", importing=True
        )
        group.save(force_insert=True)
        Person.objects.bulk_create(self.people.placeholders, batch_size=BATCH)
        for model, codes in self.read.codes.items():
            names = [model(code=code) for code in sorted(codes)]
            model._base_manager.bulk_create(names, ignore_conflicts=True)
        self.progress.group_id = group.pk
        self.progress.recognised = self.people.recognised
        self.progress.newcomers = [str(person.pk) for person in self.people.placeholders]
        self.group = group
        for kind in KINDS:
            if kind.model is FIRST:
                records = self.read.records.get(kind.name, [])
                self._insert(kind, records)
                self.progress.wordings = [record.pk for record in records]

    def _store(self, kind: ArchivedKind, batch: Sequence[Any], at: int) -> None:
        self._insert(kind, batch)
        self.progress.stored = at

    def _open(self) -> None:
        """Store the memberships, which makes the group visible."""
        for kind in KINDS:
            if kind.model is LAST:
                self._members_fit()
                self._insert(kind, self.read.records.get(kind.name, []))
        self._organise()
        self.progress.done = True
        Group.objects.filter(pk=self.group.pk).update(importing=False)
        for _, media, _ in self.read.files:
            send_later(media)
        for one in sorted(self.read.records["lists"], key=lambda one: one.pk):
            inputs_changed(one.pk)
        event_record(
            group_id=self.group.pk,
            kind="group.imported",
            thing="group",
            thing_id=self.group.pk,
            by_id=self.by.pk,
            facts={"counts": self.counts},
        )

    def _insert(self, kind: ArchivedKind, records: Sequence[Any]) -> None:
        for record in records:
            if kind.group == "group":
                record.group = self.group
        made = [getattr(record, "created_at", None) for record in records]
        try:
            with transaction.atomic():
                kind.model._base_manager.bulk_create(records, batch_size=BATCH)
                self._keep_dates(kind, records, made)
                for link in kind.model._meta.local_many_to_many:
                    self._link(link, {record.pk for record in records})
        except (IntegrityError, DataError) as error:
            # The constraint's name says what must hold; databases do not say which row broke it.
            raise ArchiveInvalid.of(
                kind.file_name,
                "contradiction",
                f"A row contradicts itself or others: {broken(error, kind)}.",
            ) from error

    def _link(self, link: "ManyToManyField[Any, Any]", records: set[Any]) -> None:
        through: Any = link.remote_field.through
        ends = (f"{link.m2m_field_name()}_id", f"{link.m2m_reverse_field_name()}_id")
        through._base_manager.bulk_create(
            [
                through(**dict(zip(ends, pair, strict=True)))
                for pair in self.read.links.get(link, ())
                if pair[0] in records
            ],
            batch_size=BATCH,
        )

    def _keep_dates(self, kind: ArchivedKind, records: Sequence[Any], made: list[Any]) -> None:
        """Restore the creation times, which storing has set to now."""
        if "created_at" not in kind.fields or not records:
            return
        for record, at in zip(records, made, strict=True):
            record.created_at = at
        kind.model._base_manager.bulk_update(records, ["created_at"], batch_size=BATCH)

    def _members_fit(self) -> None:
        """End the memberships of programs, because their secrets are not in the archive."""
        for membership in self.read.records["memberships"]:
            if membership.person.kind == Person.Kind.PROGRAM and membership.ended_at is None:
                membership.ended_at = timezone.now()

    def _organise(self) -> None:
        """Make the person who imports the group its organiser, whatever their role was."""
        own = Membership.objects.filter(group=self.group, person=self.by, ended_at=None)
        if not own.update(role=Membership.Role.ORGANISER):
            Membership.objects.create(
                group=self.group, person=self.by, role=Membership.Role.ORGANISER, buys=False
            )

    def _store_files(self, kind: ArchivedKind, batch: Sequence[Media]) -> None:
        """Store files like newly sent ones, so that a job reads and writes them again.

        They are stored before their records: an extra file is swept, a missing one would be lost.
        """
        if not kind.file:
            return
        largest = getattr(settings, kind.media.LARGEST_BYTES)
        for media in batch:
            media.group_id = self.group.pk
            content = self.archive.read(self.files[media.pk], largest)
            file_store(media, "original", io.BytesIO(content))


def broken(error: Exception, kind: ArchivedKind) -> str:
    """The rule that some row of this kind breaks, in words."""
    message = str(error)
    named = (rule.name for rule in kind.model._meta.constraints if rule.name in message)
    return next(named, "two rows are where only one may be").replace("_", " ")


# --- What came to nothing ------------------------------------------------------------------------


def group_discard(group_id: uuid.UUID, newcomers: Iterable[str]) -> None:
    """Delete the stored part of an unfinished import, in small steps too.

    newcomers: the people who came with it and have no account.
    """
    if not Group.objects.filter(pk=group_id, importing=True).exists():
        return
    for kind in reversed(KINDS):
        # Newest first: an entry of a ledger goes before the one that it takes back.
        rows = kind.model._base_manager.filter(**{kind.group: group_id}).order_by("-pk")
        while pks := list(rows.values_list("pk", flat=True)[:BATCH]):
            with transaction.atomic():
                for own in _to_itself(kind):
                    kind.model._base_manager.filter(**{f"{own}__in": pks}).update(**{own: None})
                batch = kind.model._base_manager.filter(pk__in=pks)
                files_prune(one for one in batch if isinstance(one, Media))
                batch.delete()
            time.sleep(BREATH_SECONDS)
    with transaction.atomic():
        Group.objects.filter(pk=group_id, importing=True).delete()
        Person.objects.filter(pk__in=list(newcomers), is_active=False).delete()


def _to_itself(kind: ArchivedKind) -> list[str]:
    """Fields that protect another row of the kind, such as what a submission supersedes."""
    return [
        one.name
        for one in kind.model._meta.concrete_fields
        if one.related_model is kind.model
        and one.remote_field is not None
        and one.remote_field.on_delete is PROTECT
    ]
