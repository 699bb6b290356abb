"""The floor of safety: the underlying layer can be said more sharply, never less.

Whoever looks at a boat relies on the cautions, on who must judge what they saw, and on a doubt
about structure, safety or flooding staying open. So nobody takes any of it away for their waters.
"""

from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

from apps.catalogue.content import Caution, Checkpoint, Rate, Remedy
from apps.catalogue.vocabulary import GUARDED


def kept(own: Any, underlying: Any) -> Any:
    """What somebody says, with as much safety as the underlying layer. Only ever adds."""
    match own, underlying:
        case Checkpoint(), Checkpoint():
            return _checkpoint_kept(own, underlying)
        case Remedy(), Remedy():
            # What is a professional's job stays one: gas, keel, structure, rig, lifting.
            return replace(own, own_work=own.own_work and underlying.own_work)
    return own


def lost(own: Any, underlying: Any) -> Iterator[str]:
    """The fields in which somebody says less than the underlying layer."""
    whole = kept(own, underlying)
    if whole != own:
        for field in fields(whole):
            if getattr(whole, field.name) != getattr(own, field.name):
                yield field.name


def may_be_left_out(thing: Any) -> bool:
    """Whether an underlying thing may be missing from somebody's catalogue.

    Never a caution, nor a guarded checkpoint: that would take its doubts away; nor a rate.
    """
    match thing:
        case Checkpoint():
            return not thing.guarded
        case Caution() | Rate():
            return False
    return True


def _checkpoint_kept(own: Checkpoint, underlying: Checkpoint) -> Checkpoint:
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


def _at_least_as_wide(own: Checkpoint, underlying: Checkpoint) -> dict[str, tuple[str, ...]]:
    """A guarded checkpoint is looked at on every boat on which it was before."""
    return {
        name: _with(values, list(underlying.applies[name]))
        for name, values in own.applies.items()
        if name in underlying.applies
    }
