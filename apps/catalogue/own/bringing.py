"""Entries from an archive: read with the same checks as entries from the API, and never trusted.

They need not fit the base here: an entry that does not fit is set aside, as always.
"""

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import Any

from django.db.models import Model

from apps.catalogue import cost_models, models, rows, vocabulary
from apps.catalogue.own.entries import entry_faults
from apps.catalogue.own.kinds import (
    CAUTIONS,
    CHECKPOINTS,
    ENABLING,
    FEES,
    KINDS,
    RATES,
    REMEDIES,
    RUNNING,
    YARD_HOUR,
    checkpoint_read,
)
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.own.services import CODE, MOST_ENTRIES
from apps.catalogue.snapshot import digest

Found = tuple[str, str, str]  # field, code, detail

BASE: dict[str, type[Model]] = {
    CHECKPOINTS: models.Checkpoint,
    REMEDIES: models.Remedy,
    ENABLING: cost_models.Enabling,
    CAUTIONS: models.Caution,
    FEES: cost_models.Fee,
    RUNNING: cost_models.RunningCost,
}
LONGEST_CODE = 60


class Brought:
    """What versions that are read together share. Three queries at most."""

    def __init__(self) -> None:
        self.numbers: dict[str, int] = {}

    @cached_property
    def areas(self) -> set[str]:
        return set(models.Area.objects.values_list("code", flat=True))

    @cached_property
    def scales(self) -> set[str]:
        return set(models.Scale.objects.values_list("code", flat=True))

    @cached_property
    def edition(self) -> models.Edition | None:
        return models.Edition.objects.order_by("-number").first()

    def next_number(self, code: str) -> int:
        self.numbers[code] = self.numbers.get(code, 0) + 1
        return self.numbers[code]


def is_own_code(code: str) -> bool:
    """Whether the code has a prefix of clubs or groups."""
    return (
        code.startswith(vocabulary.OWN_PREFIXES)
        and CODE.fullmatch(code) is not None
        and len(code) <= LONGEST_CODE
    )


def wording_read(version: models.CheckpointVersion, brought: Brought) -> Iterator[Found]:
    """Fill a version from the entry in `own`, or yield its faults."""
    if brought.edition is None:
        yield "own", "no_catalogue", "No catalogue was loaded here yet."
        return
    if not isinstance(version.own, dict):
        yield "own", "invalid", "An entry is needed here."
        return
    faults = list(_shape_faults(CHECKPOINTS, version.own, over=True))
    yield from faults
    if faults or version.checkpoint_id is None:  # the field reports an unknown code
        return
    payload = checkpoint_read(version.checkpoint_id, version.own)
    if payload.area not in brought.areas:
        yield "own", "unknown_reference", f"There is no area {payload.area!r} here."
    if payload.measure and payload.measure.scale not in brought.scales:
        yield "own", "unknown_reference", f"There is no scale {payload.measure.scale!r} here."
    if payload.professional_only and not payload.professional:
        yield (
            "own",
            "contradiction",
            "It names no professional, but only one may judge.",
        )
    version.number = brought.next_number(version.checkpoint_id)
    version.edition = brought.edition
    version.digest = digest(payload)
    for name, value in rows.columns(models.CheckpointVersion, payload).items():
        setattr(version, name, value)


def too_many(changes: Iterable[CatalogueChange]) -> bool:
    """Whether a whole catalogue has more entries than the API accepts."""
    return len({(change.kind, change.code) for change in changes}) > MOST_ENTRIES


def change_faults(change: CatalogueChange) -> Iterator[Found]:
    """Faults of a change as a whole; its owner and whether it fits are checked elsewhere."""
    if change.kind not in KINDS:
        return  # reported by the field
    if not _is_known(change.kind, change.code):
        yield "code", "unknown_code", f"The catalogue has no {change.code!r}."
    if change.state == CatalogueChange.State.OWN and change.kind != CHECKPOINTS:
        if not isinstance(change.own, dict):
            yield "own", "invalid", "An entry is needed here."
            return
        over = list(_shape_faults(change.kind, change.own, over=True))
        if over and list(_shape_faults(change.kind, change.own, over=False)):
            yield over[0]


def _is_known(kind: str, code: str) -> bool:
    if kind == RATES:
        return code == YARD_HOUR
    return is_own_code(code) or BASE[kind]._base_manager.filter(pk=code).exists()


def _shape_faults(kind: str, own: Any, *, over: bool) -> Iterator[Found]:
    for fault in entry_faults(kind, own, over=over, at=""):
        yield "own", "invalid", f"{fault.pointer}: {fault.detail}"
