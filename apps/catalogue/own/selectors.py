"""An owner's entries, the underlying layer, and the result of both. Constant queries."""

import uuid
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.catalogue.own.differences import Difference, differences
from apps.catalogue.own.kinds import KINDS, Key, things
from apps.catalogue.own.layers import entries_at, entry_of, overlaid
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.own.owners import Owner
from apps.catalogue.schema import Document
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Snapshot
from apps.common.errors import FieldFault, Invalid, NotVisible, require_no_faults

AS_UNDERLYING = "as_underlying"
UNDERLYING, BASE = "underlying", "base"
AGAINST = (UNDERLYING, BASE)


@dataclass(frozen=True)
class EffectiveEntry:
    """One thing as it holds for the owner, and whose entry that is.

    effective: the whole of it, None if it is left out. own: the owner's entry; underlying: the
    entry without it; each None if there is none. set_aside: why the owner's entry does not hold.
    """

    kind: str
    code: str
    title: str
    whose: str
    state: str
    effective: Document | None
    own: Document | None
    underlying: Document | None
    set_aside: str | None
    change: CatalogueChange | None


@dataclass(frozen=True)
class Held:
    """An owner's whole catalogue at one moment. Four queries."""

    owner: Owner
    holds: Snapshot
    underlying: Snapshot
    changes: dict[Key, CatalogueChange]
    aside: dict[Key, str] = field(default_factory=dict)

    @property
    def etag(self) -> str:
        return f'"catalogue-{"-".join(map(str, self.holds.editions.values()))}"'

    def entries(self, kind: str) -> list[EffectiveEntry]:
        """All entries of a kind, in order; left-out and set-aside ones come last."""
        own = [code for of, code in self.changes if of == kind]
        codes = (
            *things(self.holds.catalogue, kind),
            *things(self.underlying.catalogue, kind),
            *own,
        )
        return [self.entry(kind, code) for code in dict.fromkeys(codes)]

    def entry(self, kind: str, code: str) -> EffectiveEntry:
        """Raises `NotVisible` for a code that does not exist."""
        key = (kind, code)
        change = self.changes.get(key)
        holds = things(self.holds.catalogue, kind).get(code)
        underlying = things(self.underlying.catalogue, kind).get(code)
        own = entry_of(change).payload if change else None
        if holds is None and underlying is None and change is None:
            raise NotVisible
        thing = underlying if holds is None else holds
        write = KINDS[kind].write
        return EffectiveEntry(
            kind=kind,
            code=code,
            title=thing.title if thing is not None else (own or {}).get("title", code),
            whose=self.holds.own.get(key, "base"),
            state=change.state if change else AS_UNDERLYING,
            effective=None if holds is None else write(holds),
            own=own,
            underlying=None if underlying is None else write(underlying),
            set_aside=self.aside.get(key),
            change=change,
        )

    def counts(self) -> Iterable[dict[str, int | str]]:
        """For each kind, the number of entries, and of those with an entry of the owner."""
        for kind in KINDS:
            states = Counter(one.state for (of, _), one in self.changes.items() if of == kind)
            yield {
                "kind": kind,
                "things": len(things(self.holds.catalogue, kind)),
                "own": states[CatalogueChange.State.OWN],
                "left_out": states[CatalogueChange.State.LEFT_OUT],
            }


def held(owner: Owner, reader: Person) -> Held:
    """Raises `NotVisible` for people who do not belong. Four queries."""
    owner.require_reader(reader)
    holds, underlying = owner.snapshots()
    changes = owner.changes_in_force().select_related("checkpoint_version", "by")
    return Held(
        owner=owner,
        holds=holds,
        underlying=underlying,
        changes={(one.kind, one.code): one for one in changes},
        aside={(one.kind, one.code): one.why for one in holds.set_aside if one.owner == owner.kind},
    )


def history(owner: Owner, reader: Person, **only: str) -> QuerySet[CatalogueChange]:
    """Every change, each of which began an edition; `only`: of a kind or a code."""
    owner.require_reader(reader)
    return owner.changes().filter(**only).select_related("checkpoint_version", "by")


def differences_between(
    owner: Owner, reader: Person, *, first: int, last: int | None, against: str = UNDERLYING
) -> tuple[Snapshot, list[Difference]]:
    """Differences of the owner's edition `last` from its edition `first`; 0 is no edition.

    Both over the present underlying layer, or, against the base, the differences from the base.
    Raises `Invalid` for an edition that does not exist. Six queries.
    """
    owner.require_reader(reader)
    holds, underlying = owner.snapshots()
    latest = owner.edition_of(holds)
    require_no_faults(
        [
            FieldFault(name, "no_such_edition", f"The latest edition is {latest}.")
            for name, edition in (("?from_edition", first), ("?to_edition", last))
            if edition is not None and edition > latest
        ]
    )

    def at(edition: int) -> Snapshot:
        if edition in (0, latest):
            return holds if edition else underlying
        entries = entries_at(owner.kind, owner.id, edition)
        return overlaid(underlying, entries, owner=owner.kind, number=edition)

    last = latest if last is None else last
    if against == UNDERLYING:
        before = at(first)
    elif first:
        raise Invalid.at("?from_edition", "either_or", "The base has no edition of yours.")
    else:
        before = catalogue_snapshot()
    after = at(last)
    return after, list(differences(before.catalogue, after.catalogue))


def counting(owner: Owner, kind: str, code: str) -> CatalogueChange | None:
    """The owner's change in force for a thing. One query."""
    return owner.changes_in_force().filter(kind=kind, code=code).first()


def owner_of(*, club_id: uuid.UUID | None = None, group_id: uuid.UUID | None = None) -> Owner:
    if club_id is not None:
        return Owner("club", club_id)
    assert group_id is not None
    return Owner("group", group_id)
