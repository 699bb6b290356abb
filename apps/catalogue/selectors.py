"""What the catalogue says now, as rows for the API or as plain content, and what it said before.

The catalogue is the same for everybody who is signed in: nothing here is scoped to a reader.
Each selector takes a constant number of queries.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from apps.catalogue import rows
from apps.catalogue.content import Catalogue
from apps.catalogue.models import (
    Area,
    Caution,
    CheckpointVersion,
    Coded,
    Edition,
    Enabling,
    Fee,
    RemedyVersion,
    RunningCost,
    Scale,
)
from apps.exchange.errors import Conflict, NotVisible


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
    # Not every database can look into a JSON list, and they are few.
    return [version for version in versions if concern is None or concern in version.concerns]


def checkpoint_versions(code: str) -> list[CheckpointVersion]:
    """All versions of a checkpoint, newest first, retired or not. Raises `NotVisible`."""
    return at_least_one(stored_checkpoints().filter(checkpoint=code).order_by("-number"))


def stored_checkpoints() -> QuerySet[CheckpointVersion]:
    return (
        CheckpointVersion.objects.select_related("checkpoint", "edition", "area")
        .prefetch_related("cautions", "remedy_calls")
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


# --- As plain content, for whoever reckons with it -----------------------------------------------


@dataclass(frozen=True)
class Snapshot:
    """One edition, and the ids of the checkpoints' versions that make it up, by code."""

    edition: int
    catalogue: Catalogue
    checkpoint_version_ids: Mapping[str, int]


def catalogue_snapshot() -> Snapshot:
    """The edition in force as content: one query, a dozen for the first reader of an edition.

    Shared between callers: not to be changed. Raises `Conflict` if none was ever loaded.
    """
    return snapshot_of(current_edition().id)


# What an edition says never changes, and its id is unique for ever.
@lru_cache(maxsize=2)
def snapshot_of(edition_id: UUID) -> Snapshot:
    edition = Edition.objects.get(pk=edition_id)
    checkpoints = current_checkpoints()
    catalogue = Catalogue(
        money=rows.money_of(edition),
        areas={row.code: rows.area_of(row) for row in live(Area)},
        cautions={row.code: rows.caution_of(row) for row in live(Caution)},
        scales={row.code: rows.scale_of(row) for row in live(Scale)},
        enabling={row.code: rows.enabling_of(row) for row in live(Enabling)},
        remedies={version.remedy_id: rows.remedy_of(version) for version in current_remedies()},
        fees={row.code: rows.fee_of(row) for row in live(Fee)},
        running={row.code: rows.fee_of(row) for row in live(RunningCost)},
        checkpoints={version.checkpoint_id: rows.checkpoint_of(version) for version in checkpoints},
    )
    return Snapshot(
        edition=edition.number,
        catalogue=catalogue,
        checkpoint_version_ids={version.checkpoint_id: version.pk for version in checkpoints},
    )
