"""The kinds of entries that owners can change, and how each is written.

An entry is written as in the catalogue's files (content.py), without its code. A checkpoint is
always given as a whole, because findings are made against its words. For anything with figures only
the changed fields are given; the rest follows the underlying layer. The text given for an existing
caution is added to it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from apps.catalogue import content, schema
from apps.catalogue.fields import Entry
from apps.catalogue.schema import Document
from apps.catalogue.snapshot import Catalogue

Key = tuple[str, str]  # kind and code

CHECKPOINTS, REMEDIES, ENABLING = "checkpoints", "remedies", "enabling-work"
CAUTIONS, FEES, RUNNING, RATES = "cautions", "fees", "running-costs", "rates"
YARD_HOUR = "yard-hour"  # the only rate there is

# If a checkpoint's owner leaves these out, they stay as in the underlying layer.
LEFT_AS_UNDERLYING = ("place", "priority", "minutes", "ask")


@dataclass(frozen=True)
class OwnKind:
    """of: its field in the content, by code. type: the content type.

    is_whole: a change gives the whole entry; otherwise any part of it, or the fields of
    `over_only`. priced: its figures are in the money of the catalogue's base.
    """

    name: str
    of: str
    type: type[Entry]
    is_whole: bool = False
    over_only: tuple[str, ...] = ()
    priced: bool = True

    def read(self, code: str, payload: Document) -> Any:
        """The content of a whole entry under its code."""
        return schema.read(self.type, {**payload, "code": code})

    def write(self, thing: Any) -> Document:
        """The entry of a content value."""
        return {name: payload for name, payload in schema.write(thing).items() if name != "code"}

    @cached_property
    def whole(self) -> Document:
        """The shape of an entry, as JSON Schema."""
        shape = schema.json_schema(self.type)
        return {
            **shape,
            "required": [name for name in shape["required"] if name != "code"],
            "properties": {name: of for name, of in shape["properties"].items() if name != "code"},
        }

    @cached_property
    def over(self) -> Document:
        """The shape of an entry that is overlaid on another."""
        if self.is_whole:
            return self.whole
        may = {name: of for name, of in self.whole["properties"].items() if self.may_change(name)}
        return {**self.whole, "required": [], "properties": may, "minProperties": 1}

    def may_change(self, name: str) -> bool:
        return not self.over_only or name in self.over_only


KINDS: Mapping[str, OwnKind] = {
    kind.name: kind
    for kind in (
        OwnKind(CHECKPOINTS, "checkpoints", content.CheckpointEntry, is_whole=True, priced=False),
        OwnKind(REMEDIES, "remedies", content.RemedyEntry),
        OwnKind(ENABLING, "enabling", content.EnablingEntry),
        OwnKind(
            CAUTIONS, "cautions", content.CautionEntry, over_only=("text", "defer_to"), priced=False
        ),
        OwnKind(FEES, "fees", content.FeeEntry),
        OwnKind(RUNNING, "running", content.RunningCostEntry),
        OwnKind(RATES, "", content.Rate, is_whole=True),
    )
}


def checkpoint_read(code: str, payload: Document) -> content.CheckpointEntry:
    return schema.read(content.CheckpointEntry, {**payload, "code": code})


# --- In a catalogue ------------------------------------------------------------------------------


def things(catalogue: Catalogue, kind: str) -> Mapping[str, Any]:
    """All entries of a kind, by code."""
    if kind == RATES:
        return {YARD_HOUR: content.Rate(code=YARD_HOUR, hour=catalogue.money.yard_rate)}
    found: Mapping[str, Any] = getattr(catalogue, KINDS[kind].of)
    return found


def with_things(catalogue: Catalogue, changed: Mapping[str, Mapping[str, Any]]) -> Catalogue:
    """The same catalogue with all entries of these kinds replaced."""
    fields: dict[str, Any] = {
        KINDS[kind].of: found for kind, found in changed.items() if kind != RATES
    }
    if RATES in changed:
        fields["money"] = replace(catalogue.money, yard_rate=changed[RATES][YARD_HOUR].hour)
    return replace(catalogue, **fields)


def entry_overlaid(kind: str, code: str, payload: Document, underlying: Any) -> Any:
    """An owner's entry, completed from the underlying one if there is one."""
    of = KINDS[kind]
    if underlying is None:
        return of.read(code, payload)
    if kind == CAUTIONS:
        return replace(
            underlying,
            text=" ".join(filter(None, (underlying.text, payload.get("text")))),
            defer_to="; ".join(filter(None, (underlying.defer_to, payload.get("defer_to")))),
        )
    below = of.write(underlying)
    if of.is_whole:
        below = {name: below[name] for name in LEFT_AS_UNDERLYING if name in below}
    if {"hours", "parts"} & payload.keys():
        below.pop("variants", None)  # an owner's figures hold for all boats
    return of.read(code, {**below, **payload})
