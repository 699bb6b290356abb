"""Maps the people in an archive to accounts here, or to names without an account."""

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from apps.accounts.models import Person
from apps.archives.packing import Archive, ArchiveFault, ArchiveInvalid
from apps.archives.reading import new_ids
from apps.common.digests import email_digest
from apps.groups.models import Membership

MOST_PEOPLE = 2_000
FILE = "people.jsonl"


@dataclass
class People:
    """People by their ids in the archive. `placeholders` have no account here."""

    by_id: dict[str, Person] = field(default_factory=dict)
    placeholders: list[Person] = field(default_factory=list)

    @property
    def recognised(self) -> dict[str, str]:
        """Ids here by ids in the archive, for people with an account."""
        new = {person.pk for person in self.placeholders}
        return {old: str(one.pk) for old, one in self.by_id.items() if one.pk not in new}


def acquaintances(person: Person) -> list[Person]:
    """The person and everybody they share a group with.

    Only these may be recognised in a person's archive: otherwise a forged archive could attribute
    content to anybody, and reveal who has an account here.
    """
    groups = Membership.objects.filter(person=person, ended_at=None).values("group")
    shared = Membership.objects.filter(group__in=groups, ended_at=None).values("person")
    found = Person.objects.filter(pk__in=shared, kind=Person.Kind.PERSON, is_active=True).exclude(
        pk=person.pk
    )
    return [person, *found]


def people_read(
    archive: Archive,
    candidates: Iterable[Person],
    at: datetime,
    recognised: Mapping[str, str] | None = None,
) -> People:
    """All people in the archive; new ids are made with this time.

    recognised: ids here by ids in the archive, if that was decided before. Raises `ArchiveInvalid`.
    """
    decided = people_by_old(recognised or {})
    salt = archive.manifest["email_salt"]
    by_digest = {email_digest(person.email, salt): person for person in candidates}
    people, faults, placeholders = People(), [], {}
    for line, row in archive.rows("people"):
        found = _checked(row)
        if found is None or found[0] in people.by_id:
            faults.append(
                ArchiveFault(FILE, line, "", "invalid", "Needed: its own id, name and kind.")
            )
            continue
        old, name, kind = found
        digest = str(row.get("email_digest"))
        known = decided.get(old) if recognised is not None else by_digest.get(digest)
        person = known or Person(name=name, kind=kind, is_active=False)
        if known is None:
            placeholders[old] = person
        people.by_id[old] = person
        if len(people.by_id) > MOST_PEOPLE:
            raise ArchiveInvalid.of(FILE, "too_many_rows", f"At most {MOST_PEOPLE} people.")
    if faults:
        raise ArchiveInvalid(faults)
    for old, new in zip(sorted(placeholders), new_ids(sorted(placeholders), at), strict=True):
        person = placeholders[old]
        person.pk = new
        person.email = f"{new}@placeholder.invalid"  # RFC 2606: never an address
        person.set_unusable_password()
        people.placeholders.append(person)
    return people


def people_by_old(recognised: Mapping[str, str]) -> dict[str, Person]:
    people = Person.objects.in_bulk([uuid.UUID(pk) for pk in recognised.values()])
    by_pk = {str(pk): person for pk, person in people.items()}
    return {old: by_pk[pk] for old, pk in recognised.items() if pk in by_pk}


def _checked(row: dict[str, object]) -> tuple[str, str, str] | None:
    """Id, name and kind, if the row has valid ones."""
    name, kind = row.get("name"), row.get("kind")
    if not isinstance(name, str) or not 1 <= len(name) <= 120 or kind not in Person.Kind.values:
        return None
    try:
        return str(uuid.UUID(str(row.get("id")))), name, str(kind)
    except ValueError:
        return None
