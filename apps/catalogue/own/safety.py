"""The safety of the underlying layer is a minimum: owners can be stricter, never less strict.

People who look at a boat rely on the cautions, on the professional who must judge a finding, and on
open doubts about structure, safety or flooding. So no owner can remove any of these.
"""

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

from apps.catalogue.content import CautionEntry, CheckpointEntry, Rate, RemedyEntry
from apps.catalogue.vocabulary import GUARDED


def kept(own: Any, underlying: Any) -> Any:
    """The owner's entry with at least the safety of the underlying layer. It only adds."""
    match own, underlying:
        case CheckpointEntry(), CheckpointEntry():
            return _checkpoint_kept(own, underlying)
        case RemedyEntry(), RemedyEntry():
            # A professional's job stays one: gas, keel, structure, rig, lifting.
            return replace(own, own_work=own.own_work and underlying.own_work)
    return own


def lost(own: Any, underlying: Any) -> Iterator[str]:
    """The fields in which an owner's entry is less strict than the underlying layer."""
    whole = kept(own, underlying)
    if whole != own:
        for field in fields(whole):
            if getattr(whole, field.name) != getattr(own, field.name):
                yield field.name


def may_be_left_out(thing: Any) -> bool:
    """Whether an owner may leave out an entry of the underlying layer.

    Never a caution or a rate, and never a guarded checkpoint, whose doubts would vanish.
    """
    match thing:
        case CheckpointEntry():
            return not thing.guarded
        case CautionEntry() | Rate():
            return False
    return True


def _checkpoint_kept(own: CheckpointEntry, underlying: CheckpointEntry) -> CheckpointEntry:
    guarded = [concern for concern in underlying.concerns if concern in GUARDED]
    named = underlying.professional or own.professional
    earliest = min(own.professional_from, underlying.professional_from)
    return replace(
        own,
        concerns=_with(own.concerns, guarded),
        cautions=tuple(sorted({*own.cautions, *underlying.cautions})),
        professional=named,
        professional_from=earliest if underlying.professional else own.professional_from,
        professional_only=own.professional_only or underlying.professional_only,
        receipt_clears=own.receipt_clears and (underlying.receipt_clears or not guarded),
        walk_away_level=_lower(own.walk_away_level, underlying.walk_away_level),
        applies=_at_least_as_wide(own, underlying) if guarded else own.applies,
    )


def _with(words: tuple[str, ...], more: list[str]) -> tuple[str, ...]:
    return (*words, *(word for word in more if word not in words))


def _lower(own: int | None, underlying: int | None) -> int | None:
    levels = [level for level in (own, underlying) if level is not None]
    return min(levels, default=None)


def _at_least_as_wide(
    own: CheckpointEntry, underlying: CheckpointEntry
) -> dict[str, tuple[str, ...]]:
    """Particulars that keep a guarded checkpoint on every boat that it applied to."""
    return {
        name: _with(values, list(underlying.applies[name]))
        for name, values in own.applies.items()
        if name in underlying.applies
    }
