"""The present catalogue, as rows for the API or as plain content, and its history.

The base is the same for everybody who is signed in, so it is not scoped to a reader. Clubs' and
groups' entries are in own/selectors.py; the catalogue that holds for a group is here, as content.
Each selector takes a constant number of queries.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import lru_cache, partial
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Q, QuerySet

from apps.catalogue import content, rows
from apps.catalogue.cost_models import Coded, Enabling, Fee, RunningCost
from apps.catalogue.models import Area, Caution, CheckpointVersion, Edition, RemedyVersion, Scale
from apps.catalogue.own.kinds import CHECKPOINTS
from apps.catalogue.own.layers import (
    Layer,
    entries_at,
    layers_of_club,
    layers_of_group,
    overlaid,
    thing_of,
)
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.snapshot import Catalogue, Snapshot
from apps.catalogue.vocabulary import PLACES
from apps.common.errors import Conflict, NotVisible

T = TypeVar("T")


def current_edition() -> Edition:
    """The edition in force. Raises `Conflict` if none was ever loaded."""
    edition = Edition.objects.order_by("-number").first()
    if edition is None:
        raise Conflict("no_catalogue", "The operator has not loaded a catalogue yet.")
    return edition


def current_checkpoints(
    *, area: str | None = None, concern: str | None = None
) -> list[CheckpointVersion]:
    """The current version of each checkpoint, in walking order."""
    versions = stored_checkpoints().filter(current_of__isnull=False)
    if area:
        versions = versions.filter(area=area)
    # Not all databases can search a JSON list, and the rows are few.
    places = list(PLACES)
    return sorted(
        (version for version in versions if concern is None or concern in version.concerns),
        key=lambda version: places.index(version.place),
    )


def checkpoint_versions(code: str) -> list[CheckpointVersion]:
    """The base's versions of a checkpoint, newest first, retired or not. Raises `NotVisible`."""
    versions = stored_checkpoints().filter(checkpoint=code, club=None, group=None)
    return at_least_one(versions.order_by("-number"))


def stored_checkpoints() -> QuerySet[CheckpointVersion]:
    return (
        CheckpointVersion.objects.select_related("checkpoint", "edition", "area")
        .prefetch_related("cautions", "remedy_triggers")
        .order_by("area__position", "position")
    )


def current_remedies(*, area: str | None = None) -> QuerySet[RemedyVersion]:
    """The current version of each remedy, by area and code."""
    versions = stored_remedies().filter(current_of__isnull=False)
    return versions.filter(area=area) if area else versions


def remedy_versions(code: str) -> list[RemedyVersion]:
    """All versions of a remedy, newest first, retired or not. Raises `NotVisible`."""
    return at_least_one(stored_remedies().filter(remedy=code).order_by("-number"))


def stored_remedies() -> QuerySet[RemedyVersion]:
    return (
        RemedyVersion.objects.select_related("remedy", "edition", "area")
        .prefetch_related("enabling")
        .order_by("area__position", "remedy")
    )


def current_cautions() -> QuerySet[Caution]:
    return live(Caution)


def current_scales() -> QuerySet[Scale]:
    return live(Scale)


def live(model: type[Coded]) -> QuerySet[Any]:
    return model._default_manager.filter(retired=False)


def at_least_one(versions: QuerySet[Any]) -> list[Any]:
    found = list(versions)
    if not found:
        raise NotVisible
    return found


# --- As plain content ----------------------------------------------------------------------------


def catalogue_snapshot(group_id: UUID | None = None) -> Snapshot:
    """The catalogue of a group; without a group, the base in force. Two queries, or one.

    The first reader of an edition takes a dozen more. Callers share the result and must not
    change it. Raises `Conflict` if no base was ever loaded.
    """
    base = current_edition().id
    return snapshot_with(base, () if group_id is None else layers_of_group(group_id))


def club_snapshot(club_id: UUID) -> Snapshot:
    """The catalogue of a club's groups without entries of their own. Queries as above."""
    return snapshot_with(current_edition().id, layers_of_club(club_id))


# The content of an edition never changes, nor does that of a layer: their ids are unique for ever.
# A club's layer is kept apart from those of its groups, which are overlaid on it.
@lru_cache(maxsize=256)
def snapshot_with(edition_id: UUID, layers: tuple[Layer, ...]) -> Snapshot:
    if not layers:
        return snapshot_of(edition_id)
    underlying, layer = snapshot_with(edition_id, layers[:-1]), layers[-1]
    entries = entries_at(layer.owner, layer.owner_id, layer.number)
    whole = overlaid(underlying, entries, owner=layer.owner, number=layer.number)
    return replace(whole, layered=(edition_id, layers))


@lru_cache(maxsize=2)
def snapshot_of(edition_id: UUID) -> Snapshot:
    edition = Edition.objects.get(pk=edition_id)
    checkpoints = current_checkpoints()
    catalogue = Catalogue(
        money=rows.money_of(edition),
        areas=by_code(Area, partial(rows.thing_of, content.AreaEntry)),
        cautions=by_code(Caution, partial(rows.thing_of, content.CautionEntry)),
        scales=by_code(Scale, rows.scale_of),
        enabling=by_code(Enabling, rows.enabling_of),
        remedies={version.remedy_id: rows.remedy_of(version) for version in current_remedies()},
        fees=by_code(Fee, partial(rows.thing_of, content.FeeEntry)),
        running=by_code(RunningCost, partial(rows.thing_of, content.RunningCostEntry)),
        checkpoints={version.checkpoint_id: rows.checkpoint_of(version) for version in checkpoints},
        questions=rows.questions_of(edition),
    )
    return Snapshot(
        edition=edition.number,
        catalogue=catalogue,
        checkpoint_version_ids={version.checkpoint_id: version.pk for version in checkpoints},
        layered=(edition_id, ()),
    )


def versions_shown() -> QuerySet[CheckpointVersion]:
    """Checkpoints' versions with what findings show of them; the rest is long."""
    return CheckpointVersion.objects.only("number", "title", "club", "group")


def versions_in(snapshot: Snapshot) -> Mapping[str, CheckpointVersion]:
    """The same for the versions of a snapshot, by code. One query for its first reader.

    Callers share the versions and must not change them.
    """
    return _versions_in(*snapshot.layered)


@lru_cache(maxsize=16)
def _versions_in(edition_id: UUID, layers: tuple[Layer, ...]) -> Mapping[str, CheckpointVersion]:
    ids = snapshot_with(edition_id, layers).checkpoint_version_ids
    versions = versions_shown().in_bulk([*ids.values()])
    return {code: versions[pk] for code, pk in ids.items()}


def by_code(model: type[Coded], read: Callable[[Any], T]) -> dict[str, T]:
    return {row.code: read(row) for row in live(model)}


def versions_worded_otherwise(group_ids: Collection[UUID], snapshot: Snapshot) -> set[int]:
    """Groups' own versions of checkpoints that differ from the snapshot. One query."""
    catalogue = snapshot.catalogue
    versions = CheckpointVersion.objects.filter(group__in=group_ids)
    return {
        pk
        for pk, code, own in versions.values_list("pk", "checkpoint", "own")
        if catalogue.checkpoints.get(code) != thing_of(CHECKPOINTS, code, own or {}, catalogue)
    }


def checkpoints_once_known(codes: Collection[str], group_id: UUID) -> set[str]:
    """Which of these codes the base, the group or its club ever had. One query.

    Codes that others added stay unknown to the group.
    """
    own = Q(club=None, group=None) | Q(group=group_id) | Q(club__groups=group_id)
    known = CheckpointVersion.objects.filter(own, checkpoint__in=codes)
    return set(known.values_list("checkpoint", flat=True))


def remedies_once_known(codes: Collection[str], group_id: UUID) -> set[str]:
    """Which of these remedies the base, the group or its club ever had. Two queries."""
    base = RemedyVersion.objects.filter(remedy__in=codes).values_list("remedy", flat=True)
    own = CatalogueChange.objects.filter(
        Q(group=group_id) | Q(club__groups=group_id), kind="remedies", code__in=codes
    )
    return {*base, *own.values_list("code", flat=True)}
