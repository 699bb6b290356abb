"""Whether an owner's entries fit the underlying layer, by the rules of the files (checking.py).

An entry that does not fit is refused when it is sent. If the underlying layer changes later, an
entry may stop fitting; then it is set aside, and the rest of the owner's catalogue stays in force.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from apps.catalogue import checking
from apps.catalogue.content import CheckpointEntry, FeeEntry
from apps.catalogue.own.kinds import (
    CAUTIONS,
    CHECKPOINTS,
    ENABLING,
    RATES,
    REMEDIES,
    YARD_HOUR,
    Key,
    things,
)
from apps.catalogue.snapshot import Catalogue


@dataclass(frozen=True)
class Misfit:
    """One fault: `field` is a JSON pointer into the entry.

    because: the owner's entries that cause it.
    """

    subject: Key
    field: str
    code: str
    detail: str
    because: frozenset[Key]


def misfits(catalogue: Catalogue, own: Collection[Key]) -> Iterator[Misfit]:
    """Faults in a catalogue with these entries of one owner, left-out ones included."""
    for kind, code in own:
        if (thing := things(catalogue, kind).get(code)) is not None:
            yield from _alone(catalogue, (kind, code), thing)
    for checkpoint in catalogue.checkpoints.values():
        yield from _checkpoint(catalogue, checkpoint, own)
    for remedy in catalogue.remedies.values():
        yield from _missing(
            (REMEDIES, remedy.code), own, "/enabling", ENABLING, remedy.enabling, catalogue
        )


def _alone(catalogue: Catalogue, key: Key, thing: Any) -> Iterator[Misfit]:
    """Faults of one entry that do not depend on other entries."""
    because = frozenset({key})
    if isinstance(thing, FeeEntry) and not thing.cost.in_order:
        detail = "Low, likely and high are out of order."
        yield Misfit(key, "/likely", "out_of_order", detail, because)
    area = getattr(thing, "area", None)
    if area is not None and area not in catalogue.areas:
        yield Misfit(key, "/area", "unknown_reference", f"There is no area {area!r}.", because)
    if isinstance(thing, CheckpointEntry):
        for fault in checking.checkpoint_shape_contradictions(thing, catalogue):
            field = fault.partition(":")[0]
            yield Misfit(key, f"/{field}", "contradiction", f"{fault}.", because)


def _checkpoint(
    catalogue: Catalogue, checkpoint: CheckpointEntry, own: Collection[Key]
) -> Iterator[Misfit]:
    key = (CHECKPOINTS, checkpoint.code)
    yield from _missing(key, own, "/cautions", CAUTIONS, checkpoint.cautions, catalogue)
    measure = checkpoint.measure
    if key in own and measure and measure.scale not in catalogue.scales:
        detail = f"There is no scale {measure.scale!r}."
        yield Misfit(key, "/measure/scale", "unknown_reference", detail, frozenset({key}))
    triggered = [trigger.code for trigger in checkpoint.remedies]
    missing = list(_missing(key, own, "/remedies", REMEDIES, triggered, catalogue))
    yield from missing
    prices = {key, (RATES, YARD_HOUR), *((REMEDIES, code) for code in triggered)}
    because = frozenset(prices & set(own))
    if because and not missing:
        for fault in checking.falling_cost(checkpoint, catalogue):
            detail = f"At {checkpoint.title!r} the {fault.removeprefix('remedies: ')}."
            yield Misfit(key, "/remedies", "worse_costs_less", detail, because)


def _missing(
    key: Key,
    own: Collection[Key],
    field: str,
    kind: str,
    named: Collection[str],
    catalogue: Catalogue,
) -> Iterator[Misfit]:
    """Entries that this one names and that do not exist, with the owner's entries that cause it."""
    there = things(catalogue, kind)
    for code in named:
        if code in there:
            continue
        because = frozenset({key, (kind, code)} & set(own))
        if because:
            detail = f"{key[1]!r} names {code!r}, which is not among the {kind}."
            yield Misfit(key, field, "unknown_reference", detail, because)
