"""A new group from an archive: everything in one transaction, or nothing."""

import io
from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.db import DatabaseError, transaction
from django.db.models import ManyToManyField
from django.utils import timezone

from apps.accounts.models import Person
from apps.archives.kinds import KINDS, Kind
from apps.archives.packing import Archive, ArchiveInvalid
from apps.archives.people import People, people_read
from apps.archives.reading import Read, records_read
from apps.boats.revisions import inputs_changed
from apps.exchange.services import event_record
from apps.groups.models import Group, Membership
from apps.viewings.media.files import file_store
from apps.viewings.media.models import Media
from apps.viewings.media.services import send_later

BATCH = 500


class Imported:
    """An archive that was read and checked, ready to be stored."""

    def __init__(self, archive: Archive, *, by: Person, candidates: Iterable[Person]) -> None:
        """`candidates`: who may be recognised. Raises `ArchiveInvalid` with all that is wrong."""
        if archive.manifest["of"] != "group":
            raise ArchiveInvalid.of("manifest.json", "no_group", "This is no group's archive.")
        self.archive = archive
        self.by = by
        self.people: People = people_read(archive, candidates)
        self.read: Read = records_read(archive, self.people.by_id)
        self.notes = [*self.read.notes, *self._people_notes()]

    @property
    def counts(self) -> dict[str, int]:
        counts = {name: len(records) for name, records in self.read.records.items()}
        return {"people": len(self.people.by_id), **counts}

    def _people_notes(self) -> list[str]:
        names = [person.name for person in self.people.placeholders]
        return [f"Only by name, without an account: {', '.join(names)}."] if names else []

    @transaction.atomic
    def store(self, *, name: str = "") -> Group:
        """The new group with `by` as an organiser. Raises `ArchiveInvalid`."""
        group = Group(name=(name or self.archive.subject_name)[:120] or "Imported group")
        group.save(force_insert=True)
        self._members_fit(group)
        for person in self.people.placeholders:
            person.save(force_insert=True)
        for model, codes in self.read.codes.items():
            names = [model(code=code) for code in sorted(codes)]
            model._base_manager.bulk_create(names, ignore_conflicts=True)
        for kind in KINDS:
            self._store(kind, group)
        self._organise(group)
        for kind, media, file_name in self.read.files:
            self._store_file(kind, media, file_name)
        for one in sorted(self.read.records["lists"], key=lambda one: one.pk):
            inputs_changed(one.pk)
        event_record(
            group_id=group.pk,
            kind="group.imported",
            thing="group",
            thing_id=group.pk,
            by_id=self.by.pk,
            facts={"counts": self.counts},
        )
        return group

    def _store(self, kind: Kind, group: Group) -> None:
        records = self.read.records.get(kind.name, [])
        for record in records:
            if kind.group == "group":
                record.group = group
        made = [getattr(record, "created_at", None) for record in records]
        try:
            with transaction.atomic():
                kind.model._base_manager.bulk_create(records, batch_size=BATCH)
                self._keep_dates(kind, records, made)
                for field in kind.model._meta.local_many_to_many:
                    self._link(field)
        except DatabaseError as error:
            # The constraints' names say what must hold; which row broke it, databases do not tell.
            raise ArchiveInvalid.of(
                kind.file_name,
                "contradiction",
                f"A row contradicts itself or others: {broken(error, kind)}.",
            ) from error

    def _link(self, field: ManyToManyField) -> None:
        through: Any = field.remote_field.through
        ends = (f"{field.m2m_field_name()}_id", f"{field.m2m_reverse_field_name()}_id")
        through._base_manager.bulk_create(
            [
                through(**dict(zip(ends, pair, strict=True)))
                for pair in self.read.links.get(field, ())
            ],
            batch_size=BATCH,
        )

    def _keep_dates(self, kind: Kind, records: list[Any], made: list[Any]) -> None:
        """When a record was made is part of the record; storing it anew has set it to now."""
        if "created_at" not in kind.fields or not records:
            return
        for record, at in zip(records, made, strict=True):
            record.created_at = at
        kind.model._base_manager.bulk_update(records, ["created_at"], batch_size=BATCH)

    def _members_fit(self, group: Group) -> None:
        """A program's key does not travel: here it does nothing and is a member no more."""
        for membership in self.read.records["memberships"]:
            if membership.person.kind == Person.Kind.PROGRAM and membership.ended_at is None:
                membership.ended_at = timezone.now()

    def _organise(self, group: Group) -> None:
        """Whoever brings the group is an organiser of it, whatever they were."""
        own = Membership.objects.filter(group=group, person=self.by, ended_at=None)
        if not own.update(role=Membership.Role.ORGANISER):
            Membership.objects.create(
                group=group, person=self.by, role=Membership.Role.ORGANISER, buys=False
            )

    def _store_file(self, kind: Kind, media: Media, file_name: str) -> None:
        """As if it had just been sent: a file from elsewhere is read and written anew by a job."""
        largest = (
            settings.PHOTO_LARGEST_BYTES if kind.name == "photos" else settings.SOUND_LARGEST_BYTES
        )
        file_store(media, "original", io.BytesIO(self.archive.read(file_name, largest)))
        send_later(media)


def broken(error: DatabaseError, kind: Kind) -> str:
    """What the records of this kind have to keep to and some row does not, in words."""
    said = str(error)
    named = (rule.name for rule in kind.model._meta.constraints if rule.name in said)
    return next(named, "two rows are where only one may be").replace("_", " ")
