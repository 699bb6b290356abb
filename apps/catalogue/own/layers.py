"""Overlay a club's and a group's entries on the base, each over the underlying layer."""

import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

from django.db.models import Exists, OuterRef, Q, QuerySet

from apps.catalogue.own.fitting import misfits
from apps.catalogue.own.kinds import (
    CHECKPOINTS,
    KINDS,
    REMEDIES,
    Key,
    entry_overlaid,
    things,
    with_things,
)
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.own.safety import kept, may_be_left_out
from apps.catalogue.schema import Document
from apps.catalogue.snapshot import Catalogue, CostBasis, SetAside, Snapshot, in_walking_order
from apps.common.prepared import Prepared, Row

State = CatalogueChange.State


class Layer(NamedTuple):
    """One owner's edition, identified for ever by the change that began it."""

    owner: str  # "club" or "group"
    owner_id: uuid.UUID
    number: int
    change_id: uuid.UUID


@dataclass(frozen=True)
class OwnEntry:
    """An owner's entry for one thing; `payload` is None for one that is left out."""

    kind: str
    code: str
    payload: Document | None
    version_id: int | None
    basis: CostBasis

    @property
    def key(self) -> Key:
        return self.kind, self.code


# --- What is stored ------------------------------------------------------------------------------


def changes_of(owner: str, owner_id: uuid.UUID) -> QuerySet[CatalogueChange]:
    return CatalogueChange.objects.filter(**{owner: owner_id})


def layers_of_group(group_id: uuid.UUID) -> tuple[Layer, ...]:
    """The club's layer and the group's own over it, if they exist. One query."""
    return _layers(_OF_GROUP(group_id))


def layers_of_club(club_id: uuid.UUID) -> tuple[Layer, ...]:
    return _layers(_OF_CLUB(club_id))


def _latest(whose: Q) -> QuerySet[CatalogueChange, Row]:
    later = CatalogueChange.objects.filter(number__gt=OuterRef("number"))
    return (
        CatalogueChange.objects.filter(whose)
        .filter(
            ~Exists(later.filter(club=OuterRef("club"))),
            ~Exists(later.filter(group=OuterRef("group"))),
        )
        .values_list("club", "group", "number", "pk")
    )


_OF_GROUP = Prepared(lambda id: _latest(Q(group=id) | Q(club__groups=id)), uuid.UUID)
_OF_CLUB = Prepared(lambda id: _latest(Q(club=id)), uuid.UUID)


def _layers(found: Iterable[Row]) -> tuple[Layer, ...]:
    layers = [
        Layer("club", club, number, pk) if club else Layer("group", group, number, pk)
        for club, group, number, pk in found
    ]
    return tuple(sorted(layers))  # the club's comes first


def changes_in_force(
    owner: str, owner_id: uuid.UUID, up_to: int | None = None
) -> QuerySet[CatalogueChange]:
    """The changes in force now, or at an edition: the latest of each thing, unless taken back."""
    changes = changes_of(owner, owner_id)
    if up_to is not None:
        changes = changes.filter(number__lte=up_to)
    later = changes.filter(
        kind=OuterRef("kind"), code=OuterRef("code"), number__gt=OuterRef("number")
    )
    return (
        changes.filter(~Exists(later))
        .exclude(state=State.TAKEN_BACK)
        .select_related("checkpoint_version")
        .order_by("number")
    )


def entries_at(owner: str, owner_id: uuid.UUID, edition: int) -> list[OwnEntry]:
    """The owner's entries at that edition, oldest first. One query."""
    return [entry_of(change) for change in changes_in_force(owner, owner_id, edition)]


def entry_of(change: CatalogueChange) -> OwnEntry:
    version = change.checkpoint_version
    return OwnEntry(
        kind=change.kind,
        code=change.code,
        payload=change.own if version is None else version.own,
        version_id=change.checkpoint_version_id,
        basis=CostBasis(change.base_year, change.currency, change.reference_loa_m),
    )


# --- Overlay -------------------------------------------------------------------------------------


def overlaid(
    underlying: Snapshot, entries: Sequence[OwnEntry], *, owner: str, number: int
) -> Snapshot:
    """The catalogue with the owner's entries overlaid on the underlying layer.

    An entry that no longer fits is set aside: the underlying layer holds in its place.
    """
    own = {entry.key: entry for entry in entries}
    aside = {key: why for key, entry in own.items() if (why := _unusable(entry, underlying))}
    own = _without(own, aside)
    while True:
        catalogue = composed(underlying.catalogue, own.values())
        found = {key: one.detail for one in misfits(catalogue, own.keys()) for key in one.because}
        if not found:
            break
        aside |= found
        own = _without(own, found)
    versions = dict(underlying.checkpoint_version_ids)
    for entry in own.values():
        if entry.kind == CHECKPOINTS and entry.version_id is not None:
            versions[entry.code] = entry.version_id
    return replace(
        underlying,
        catalogue=catalogue,
        checkpoint_version_ids={code: versions[code] for code in catalogue.checkpoints},
        own={**underlying.own, **dict.fromkeys(own, owner)},
        set_aside=(
            *underlying.set_aside,
            *(SetAside(owner, *key, why) for key, why in aside.items()),
        ),
        **{f"{owner}_edition": number},
    )


def _without(own: Mapping[Key, OwnEntry], keys: Collection[Key]) -> dict[Key, OwnEntry]:
    return {key: entry for key, entry in own.items() if key not in keys}


def _unusable(entry: OwnEntry, underlying: Snapshot) -> str:
    """Why an entry cannot be read over the underlying layer at all; empty if it can."""
    kind, catalogue = KINDS[entry.kind], underlying.catalogue
    if kind.priced and entry.payload is not None and entry.basis != catalogue.money.basis:
        return "Its currency, base year or boat length is no longer the catalogue's."
    below = things(catalogue, entry.kind).get(entry.code)
    if entry.payload is None and below is not None and not may_be_left_out(below):
        return "It is about safety now and cannot be left out."
    if is_part(entry) and below is None:
        return "The entry that it changes is no longer in the catalogue."
    return ""


def is_part(entry: OwnEntry) -> bool:
    """Whether it gives only the differences from the underlying layer."""
    if entry.payload is None or KINDS[entry.kind].is_whole:
        return False
    return not set(KINDS[entry.kind].whole["required"]) <= entry.payload.keys()


def composed(underlying: Catalogue, own: Iterable[OwnEntry]) -> Catalogue:
    """The catalogue with these entries, and with all the safety of the underlying layer."""
    changed: dict[str, dict[str, Any]] = {}
    for entry in own:
        all_of_it = changed.setdefault(entry.kind, dict(things(underlying, entry.kind)))
        if entry.payload is None:
            all_of_it.pop(entry.code, None)
        else:
            all_of_it[entry.code] = thing_of(entry.kind, entry.code, entry.payload, underlying)
    ordered = {kind: _ordered(kind, found, underlying) for kind, found in changed.items()}
    return with_things(underlying, ordered)


def thing_of(kind: str, code: str, payload: Document, underlying: Catalogue) -> Any:
    """The content of an entry over the underlying layer."""
    below = things(underlying, kind).get(code)
    return kept(entry_overlaid(kind, code, payload, below), below)


def _ordered(kind: str, found: Mapping[str, Any], underlying: Catalogue) -> dict[str, Any]:
    """Checkpoints in walking order, remedies by area; others in their order, added ones last."""
    areas = {code: area.position for code, area in underlying.areas.items()}
    if kind == CHECKPOINTS:
        return dict(in_walking_order(found.values(), areas))
    if kind != REMEDIES:
        return dict(found)

    def place(code: str) -> tuple[int, str]:
        return areas.get(found[code].area, len(areas)), code

    return {code: found[code] for code in sorted(found, key=place)}
