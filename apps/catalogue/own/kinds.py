"""The kinds of thing that can be said otherwise, and how each is written.

An entry is written as in the catalogue's files (schema.py), without its code. A checkpoint is
always said as a whole, for findings are made against its words. Of anything with figures only what
differs is said, and the rest follows what lies beneath. What is said of a caution that lies beneath
is added to its words.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from apps.catalogue import content, reading, schema
from apps.catalogue.content import Catalogue, ThreePoints
from apps.catalogue.schema import Schema

Document = dict[str, Any]
Key = tuple[str, str]  # kind and code

CHECKPOINTS, REMEDIES, ENABLING = "checkpoints", "remedies", "enabling-work"
CAUTIONS, FEES, RUNNING, RATES = "cautions", "fees", "running-costs", "rates"
YARD_HOUR = "yard-hour"  # the only rate there is


@dataclass(frozen=True)
class Kind:
    """of: its field in the content, by code. whole: an entry; over: one laid over another.

    read makes the thing of a whole entry under its code, write the entry of the thing. priced: it
    is in the money of the catalogue's base.
    """

    name: str
    of: str
    whole: Schema
    over: Schema
    read: Callable[[str, Document], Any]
    write: Callable[[Any], Document]
    priced: bool = True

    @property
    def said_whole(self) -> bool:
        return self.whole is self.over


def without_code(entry: Schema) -> Schema:
    return {
        **entry,
        "required": [name for name in entry["required"] if name != "code"],
        "properties": {
            name: shape for name, shape in entry["properties"].items() if name != "code"
        },
    }


def parts_of(entry: Schema) -> Schema:
    """The same where any of it may be left out, but not all."""
    return {**entry, "required": [], "minProperties": 1}


# --- How each is written -------------------------------------------------------------------------


def points_written(points: ThreePoints) -> list[float]:
    return [points.low, points.likely, points.high]


def known(**said: Any) -> Document:
    """The optional parts of an entry, as far as there are any."""
    return {name: value for name, value in said.items() if value not in (None, "", (), [], {})}


def checkpoint_written(checkpoint: content.Checkpoint) -> Document:
    measure = checkpoint.measure
    return {
        "area": checkpoint.area,
        "title": checkpoint.title,
        "position": checkpoint.position,
        "look": checkpoint.look,
        "levels": list(checkpoint.levels),
        "concerns": list(checkpoint.concerns),
        "weight": checkpoint.weight,
        "professional": checkpoint.professional,
        "professional_from": checkpoint.professional_from,
        "professional_only": checkpoint.professional_only,
        "belief": asdict(checkpoint.belief),
        "source": checkpoint.source,
        **{name: getattr(checkpoint, name) for name in schema.WHERE_AND_WHEN},
        **known(
            tools=list(checkpoint.tools),
            walk_away_level=checkpoint.walk_away_level,
            receipt_clears=checkpoint.receipt_clears or None,
            cautions=list(checkpoint.cautions),
            prevented_by=list(checkpoint.prevented_by),
            applies={name: list(values) for name, values in checkpoint.applies.items()},
            measure=measure
            and {"name": measure.name, "unit": measure.unit, "scale": measure.scale},
            remedies=[
                {
                    "code": call.code,
                    "probability": list(call.probability),
                    "extent": list(call.extent),
                }
                for call in checkpoint.remedies
            ],
            tags=list(checkpoint.tags),
            ask=checkpoint.ask,
            hampered_by=list(checkpoint.hampered_by),
        ),
    }


def scale_written(work: content.Enabling | content.Remedy) -> Document:
    if isinstance(work, content.Remedy) and work.by_price:
        return {"by": "price"}
    return {"by": "loa", "exponent": work.loa_exponent} if work.loa_exponent else {"by": "none"}


def priced_written(work: content.Enabling | content.Remedy) -> Document:
    return {
        "title": work.title,
        "hours": points_written(work.hours),
        "parts": points_written(work.parts),
        "scale": scale_written(work),
        "confidence": work.confidence,
        "source": work.source,
    }


def remedy_written(remedy: content.Remedy) -> Document:
    return {
        **priced_written(remedy),
        "area": remedy.area,
        "enabling": list(remedy.enabling),
        "own_work": remedy.own_work,
        "own_hours_factor": remedy.own_hours_factor,
        "urgency": remedy.urgency,
        **known(
            count=remedy.count,
            variants=[
                {
                    "applies": {name: list(values) for name, values in variant.applies.items()},
                    "hours": points_written(variant.hours),
                    "parts": points_written(variant.parts),
                }
                for variant in remedy.variants
            ],
        ),
    }


def caution_written(caution: content.Caution) -> Document:
    return {"title": caution.title, "text": caution.text, "defer_to": caution.defer_to}


def fee_written(fee: content.Fee) -> Document:
    low, likely, high = points_written(fee.cost)
    return {
        "title": fee.title,
        "low": low,
        "likely": likely,
        "high": high,
        "per": fee.per,
        "source": fee.source,
    }


def checkpoint_read(code: str, said: Document) -> content.Checkpoint:
    return reading.checkpoint({**said, "code": code}, said["area"])


RATE: Schema = schema.table({"hour": schema.THREE_POINTS})


def _kinds() -> list[Kind]:
    checkpoint = without_code(schema.CHECKPOINT)
    checkpoint["required"] = [
        "area",
        *(name for name in checkpoint["required"] if name not in schema.WHERE_AND_WHEN),
    ]
    checkpoint["properties"] = {"area": schema.CODE, **checkpoint["properties"]}
    remedy, enabling = without_code(schema.REMEDY), without_code(schema.table(schema.PRICED))
    fee = without_code(schema.fee(content.FEE_BASES))
    running = without_code(schema.fee(content.RUNNING_BASES))
    addition = parts_of(schema.table({}, {"text": schema.text(1000), "defer_to": schema.text(300)}))
    return [
        Kind(
            CHECKPOINTS,
            "checkpoints",
            checkpoint,
            checkpoint,
            checkpoint_read,
            checkpoint_written,
            priced=False,
        ),
        Kind(
            REMEDIES,
            "remedies",
            remedy,
            parts_of(remedy),
            lambda code, said: reading.remedy({**said, "code": code}),
            remedy_written,
        ),
        Kind(
            ENABLING,
            "enabling",
            enabling,
            parts_of(enabling),
            lambda code, said: content.Enabling(**reading.priced({**said, "code": code})),
            priced_written,
        ),
        Kind(
            CAUTIONS,
            "cautions",
            without_code(schema.CAUTION),
            addition,
            lambda code, said: content.Caution(code=code, **said),
            caution_written,
            priced=False,
        ),
        Kind(
            FEES,
            "fees",
            fee,
            parts_of(fee),
            lambda code, said: reading.fee({**said, "code": code}),
            fee_written,
        ),
        Kind(
            RUNNING,
            "running",
            running,
            parts_of(running),
            lambda code, said: reading.fee({**said, "code": code}),
            fee_written,
        ),
        Kind(
            RATES,
            "",
            RATE,
            RATE,
            lambda _, said: reading.three_points(said["hour"]),
            lambda rate: {"hour": points_written(rate)},
        ),
    ]


KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _kinds()}


# --- In a catalogue ------------------------------------------------------------------------------


def things(catalogue: Catalogue, kind: str) -> Mapping[str, Any]:
    """All of a kind, by code."""
    if kind == RATES:
        return {YARD_HOUR: catalogue.money.yard_rate}
    found: Mapping[str, Any] = getattr(catalogue, KINDS[kind].of)
    return found


def with_things(catalogue: Catalogue, changed: Mapping[str, Mapping[str, Any]]) -> Catalogue:
    """The same catalogue with these in place of all that it has of these kinds."""
    fields: dict[str, Any] = {
        KINDS[kind].of: found for kind, found in changed.items() if kind != RATES
    }
    if RATES in changed:
        fields["money"] = replace(catalogue.money, yard_rate=changed[RATES][YARD_HOUR])
    return replace(catalogue, **fields)


def title_of(kind: str, thing: Any) -> str:
    return "An hour of a yard's labour" if kind == RATES else thing.title


def _left_as_beneath(beneath: Any) -> Document:
    """What even an entry that is said as a whole may leave out: it stays as it is beneath."""
    if not isinstance(beneath, content.Checkpoint):
        return {}
    said = checkpoint_written(beneath)
    return {name: said[name] for name in (*schema.WHERE_AND_WHEN, "ask") if name in said}


def whole_entry(kind: str, said: Document, beneath: Any) -> Document:
    """What an owner said, made whole by the thing that lies beneath it, if there is one."""
    of = KINDS[kind]
    if beneath is None:
        return said
    if of.said_whole:
        return {**_left_as_beneath(beneath), **said}
    if kind == CAUTIONS:
        added = said.get("text"), said.get("defer_to")
        return {
            "title": beneath.title,
            "text": " ".join(filter(None, (beneath.text, added[0]))),
            "defer_to": "; ".join(filter(None, (beneath.defer_to, added[1]))),
        }
    below = of.write(beneath)
    if {"hours", "parts"} & said.keys():
        below.pop("variants", None)  # whoever says what it takes says it of all boats
    return {**below, **said}
