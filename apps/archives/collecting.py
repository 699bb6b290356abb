"""Reads the rows of an archive at one moment, with only what its reader may see."""

import secrets
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.db import connection, transaction
from django.db.models import ForeignKey, ManyToManyField, Q, QuerySet

from apps.accounts.models import Person, Token
from apps.accounts.selectors import grants_of
from apps.archives.kinds import KINDS, ArchivedKind
from apps.boats.models import Ballot, Valuation
from apps.catalogue.models import CheckpointVersion
from apps.common.digests import email_digest
from apps.common.plain_values import plain
from apps.groups.models import Group, Membership
from apps.notifications.selectors import notified
from apps.records.selectors import withheld_from
from apps.surveys.models import SurveyBallot
from apps.viewings.models import Submission

Row = dict[str, Any]


@dataclass
class Collected:
    """The content of an archive. `left_out` counts what its reader may not see."""

    of: str
    subject: Row
    rows: dict[str, list[Row]] = field(default_factory=dict)
    left_out: dict[str, int] = field(default_factory=dict)
    email_salt: str = ""


@contextmanager
def one_moment() -> Iterator[None]:
    """Make all reads inside see the same state of the database."""
    outermost = not connection.in_atomic_block
    with transaction.atomic():
        if outermost and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def group_collect(group: Group, reader: Person | None) -> Collected:
    """All data of a group that the reader may see; None: an operator, who sees everything.

    Drafts are left out. Others' opinions are hidden from a reader who has not given theirs.
    """
    with one_moment():
        collected = Collected("group", {"id": str(group.pk), "name": group.name})
        collected.email_salt = secrets.token_hex(16)
        for kind in KINDS:
            whole = kind.of_group(group.pk)
            shared = whole.filter(kind.kept, kind.shared)
            seen = shared if reader is None else shared.filter(opinions_open_to(kind, reader))
            collected.rows[kind.name] = rows_of(kind, seen)
            hidden = whole.count() - len(collected.rows[kind.name])
            if hidden:
                collected.left_out[kind.name] = hidden
        collected.rows["people"] = people_rows(group, collected.rows, collected.email_salt)
        if reader is not None:
            hide_votes(collected, reader)
            hide_record_entries(collected, reader)
        return collected


def person_collect(person: Person) -> Collected:
    """All stored data of a person in all groups, including drafts; of others only ids."""
    with one_moment():
        collected = Collected("person", {"id": str(person.pk), "name": person.name})
        collected.rows["people"] = [
            {
                "id": str(person.pk),
                "name": person.name,
                "kind": person.kind,
                "email": person.email,
                "units": person.units,
                "currency": person.currency,
                "created_at": plain(person.created_at),
            }
        ]
        groups = Group.objects.filter(memberships__person=person).distinct().order_by("pk")
        belonged = Membership.objects.filter(person=person).values("group")
        collected.rows["groups"] = [{"id": str(g.pk), "name": g.name} for g in groups]
        collected.rows["tokens"] = [
            {name: plain(value) for name, value in row.items()}
            for row in Token.objects.filter(person=person).order_by("pk").values(*TOKEN_FIELDS)
        ]
        collected.rows["grants"] = [
            {"program": p.name, "scopes": sorted({s for t in p.tokens for s in t.scope.split()})}
            for p in grants_of(person)
        ]
        collected.rows |= {
            name: [{field: plain(value) for field, value in row.items()} for row in rows]
            for name, rows in notified(person).items()
        }
        for kind in KINDS:
            own = Q(pk__in=[])
            for lookup in kind.own:
                own |= Q(**{lookup: person})
            if not kind.by_outsiders:
                own &= Q(**{f"{kind.group}__in": belonged}) | Q(**{kind.group: None})
            # An unfinished import belongs to nobody yet.
            own &= ~Q(**{f"{kind.group}__importing": True})
            rows = kind.model._base_manager.filter(kind.kept, own).distinct()
            collected.rows[kind.name] = rows_of(kind, rows)
        return collected


TOKEN_FIELDS = (
    "id",
    "kind",
    "name",
    "scopes",
    "created_at",
    "expires_at",
    "revoked_at",
    "last_used_at",
)


# --- People --------------------------------------------------------------------------------------


def people_rows(group: Group, rows: Mapping[str, list[Row]], salt: str) -> list[Row]:
    """The people who belong or belonged to the group, or are named in a row.

    Members do not see each other's emails, so rows have only a digest to recognise somebody.
    """
    named = {one for kind in KINDS for row in rows[kind.name] for one in people_in(kind, row)}
    members = Membership.objects.filter(group=group).values("person")
    people = Person.objects.filter(Q(pk__in=members) | Q(pk__in=named)).order_by("pk")
    return [
        {
            "id": str(person.pk),
            "name": person.name,
            "kind": person.kind,
            "email_digest": email_digest(person.email, salt),
        }
        for person in people
    ]


def people_in(kind: ArchivedKind, row: Row) -> Iterator[str]:
    for name in kind.fields:
        if kind.model._meta.get_field(name).related_model is Person and row[name]:
            yield from [row[name]] if isinstance(row[name], str) else row[name]


# --- What the reader may see ---------------------------------------------------------------------


def opinions_open_to(kind: ArchivedKind, reader: Person) -> Q:
    """Records with opinions that the reader may see, by the rules of the apps' selectors."""
    if kind.model is Valuation:
        valued = Valuation.objects.filter(person=reader).values("candidate")
        return Q(candidate__list__opinions_open=True) | Q(candidate__in=valued)
    if kind.model is Ballot:
        ranked = Ballot.objects.filter(person=reader).values("list")
        return Q(list__opinions_open=True) | Q(list__in=ranked)
    if kind.model is SurveyBallot:
        open_to = Q(vote__candidate__list__opinions_open=True) | Q(vote__closed_at__isnull=False)
        return open_to | Q(person=reader)
    return Q()


def hide_votes(collected: Collected, reader: Person) -> None:
    """Remove hidden votes, by the rule of apps/viewings/selectors.py. One query."""
    own = Submission.objects.filter(author=reader, state=Submission.State.SUBMITTED)
    given = own.exclude(vote="").values("viewing__candidate")
    open_to = Q(viewing__candidate__list__opinions_open=True) | Q(viewing__candidate__in=given)
    submissions = collected.rows["submissions"]
    seen = {
        str(pk)
        for pk in Submission.objects.filter(
            open_to | Q(author=reader),
            viewing__candidate__list__group=collected.subject["id"],
        ).values_list("pk", flat=True)
    }
    hidden = [row for row in submissions if row["vote"] and row["id"] not in seen]
    for row in hidden:
        row["vote"] = ""
    if hidden:
        collected.left_out["votes"] = len(hidden)


def hide_record_entries(collected: Collected, reader: Person) -> None:
    """Leave only the digests of entries that the reader may not read: the chain stays whole."""
    withheld = {str(pk) for pk in withheld_from(reader, uuid.UUID(collected.subject["id"]))}
    for row in collected.rows["record_entries"]:
        if row["id"] in withheld:
            row |= {"kind": "", "thing": "", "text": "", "by": None, "candidate": None}
            row["of_list"] = False
    if withheld:
        collected.left_out["record_texts"] = len(withheld)


# --- Rows ----------------------------------------------------------------------------------------


def rows_of(kind: ArchivedKind, records: QuerySet[Any]) -> list[Row]:
    """Plain rows of these records, oldest first. One query, and one per many-to-many field."""
    fields = [kind.model._meta.get_field(name) for name in kind.fields]
    single = [field for field in fields if not isinstance(field, ManyToManyField)]
    paths = [path_of(field) for field in single]
    found = list(records.order_by("pk").values_list("pk", *paths))
    rows = [
        dict(zip((f.name for f in single), map(plain, values), strict=True)) for _, *values in found
    ]
    for many in fields:
        if isinstance(many, ManyToManyField):
            linked = linked_by(many, records)
            for (pk, *_), row in zip(found, rows, strict=True):
                row[many.name] = linked.get(pk, [])
    return rows


def path_of(field: Any) -> str:
    """The path to what names a record: its id or code; for a checkpoint's version, its digest."""
    if isinstance(field, ForeignKey):
        if field.related_model is CheckpointVersion:
            return f"{field.name}__digest"
        return field.attname
    return str(field.name)


def linked_by(
    many: "ManyToManyField[Any, Any]", records: QuerySet[Any]
) -> dict[uuid.UUID, list[str]]:
    """The ids that each of the records is linked to, in the order of linking."""
    source = many.m2m_field_name()
    through: Any = many.remote_field.through
    links = through._base_manager.filter(**{f"{source}__in": records.order_by().values("pk")})
    linked: dict[uuid.UUID, list[str]] = {}
    pairs = links.order_by("pk").values_list(f"{source}_id", f"{many.m2m_reverse_field_name()}_id")
    for pk, other in pairs:
        linked.setdefault(pk, []).append(str(other))
    return linked
