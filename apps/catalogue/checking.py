"""Rules that no schema can express: unique codes, valid references, consistent facts.

Every function yields faults as lines; nothing here raises.
"""

from collections.abc import Collection, Iterator, Mapping
from itertools import chain
from typing import Any

from apps.catalogue import content, vocabulary
from apps.catalogue.fields import Entry
from apps.catalogue.snapshot import Catalogue

Documents = Mapping[str, dict[str, Any]]

# The file, and its key, of the entries that checkpoints and remedies refer to.
KINDS = {
    "remedy": "remedies.toml",
    "enabling": "enabling.toml",
    "caution": "cautions.toml",
    "scale": "scales.toml",
}


def entries(document: Any, key: str) -> Iterator[dict[str, Any]]:
    """The entries under `key` that have a code, also in a malformed document."""
    rows = document.get(key, []) if isinstance(document, dict) else []
    for row in rows if isinstance(rows, list) else []:
        if isinstance(row, dict) and isinstance(row.get("code"), str):
            yield row


def repeats(files: Mapping[str, Entry]) -> Iterator[str]:
    """Duplicate codes, places and areas; codes with a prefix of clubs or groups."""
    seen: set[Any] = set()
    for name, file in files.items():
        for entry in chain(*(each for each in vars(file).values() if isinstance(each, tuple))):
            if entry.code.startswith(vocabulary.OWN_PREFIXES):
                yield f"{name}: {entry.code}: code: begins as only a club's or a group's own do"
            for key, within in (("code", type(entry)), ("position", name)):
                value = getattr(entry, key, None)
                if value is not None and (key, within, value) in seen:
                    yield f"{name}: {entry.code}: {key}: {value!r} is used twice"
                seen.add((key, within, value))
        if (area := getattr(file, "area", None)) is None:
            continue
        if area_file(area) != name:
            yield f"{name}: area: {area!r} belongs in a file of its own name"
        for key in ("area", "position"):
            value = getattr(file, key)
            if (key, value) in seen:
                yield f"{name}: {key}: {value!r} is taken by another area"
            seen.add((key, value))


def area_file(area: str) -> str:
    return f"checkpoints/{area}.toml"


def dangling_references(documents: Documents) -> Iterator[str]:
    """Codes that do not exist; malformed parts are skipped."""
    known = {
        kind: {row["code"] for row in entries(documents[name], kind)}
        for kind, name in KINDS.items()
        if name in documents
    }
    remedies = KINDS["remedy"]
    for row in entries(documents.get(remedies), "remedy"):
        at = f"{remedies}: {row['code']}: enabling"
        yield from dangling(at, row.get("enabling"), known.get("enabling"))
    for name, document in documents.items():
        for row in entries(document, "checkpoint"):
            at = f"{name}: {row['code']}"
            triggers = [trigger["code"] for trigger in entries(row, "remedies")]
            yield from dangling(f"{at}: remedies", triggers, known.get("remedy"))
            yield from dangling(f"{at}: cautions", row.get("cautions"), known.get("caution"))
            if isinstance(measure := row.get("measure"), dict):
                yield from dangling(f"{at}: measure", [measure.get("scale")], known.get("scale"))


def dangling(at: str, named: Any, known: Collection[str] | None) -> Iterator[str]:
    if known is None or not isinstance(named, list):
        return
    for code in named:
        if isinstance(code, str) and code not in known:
            yield f"{at}: there is no {code!r}"


def contradictions(catalogue: Catalogue) -> Iterator[str]:
    """Facts that contradict each other, in a well-formed catalogue."""
    yield from scales_out_of_order(catalogue)
    base_year = catalogue.money.basis.base_year
    if base_year not in catalogue.money.price_index:
        yield f"price_index.toml: annual: lacks the base year {base_year}"
    for name, fees in (("purchase.toml", catalogue.fees), ("running.toml", catalogue.running)):
        for code, fee in fees.items():
            if not fee.cost.in_order:
                yield f"{name}: {code}: cost: low, likely and high are out of order"
    for code, remedy in catalogue.remedies.items():
        yield from dangling(f"remedies.toml: {code}: area", [remedy.area], catalogue.areas.keys())
    for checkpoint in catalogue.checkpoints.values():
        for fault in checkpoint_contradictions(checkpoint, catalogue):
            yield f"{area_file(checkpoint.area)}: {checkpoint.code}: {fault}"


def scales_out_of_order(catalogue: Catalogue) -> Iterator[str]:
    for code, scale in catalogue.scales.items():
        at = f"scales.toml: {code}"
        if scale.lowest >= scale.highest:
            yield f"{at}: range: lowest and highest are out of order"
        ordered = sorted(set(scale.breaks), reverse=not scale.rising)
        if list(scale.breaks) != ordered:
            yield f"{at}: breaks: must {'rise' if scale.rising else 'fall'} at each step"
        outside = [
            value
            for value in (*scale.breaks, *(grade.value for grade in scale.grades))
            if not scale.lowest <= value <= scale.highest
        ]
        if outside:
            yield f"{at}: range: leaves out {', '.join(f'{value:g}' for value in outside)}"


def checkpoint_contradictions(
    checkpoint: content.CheckpointEntry, catalogue: Catalogue
) -> Iterator[str]:
    yield from checkpoint_shape_contradictions(checkpoint, catalogue)
    if catalogue.remedies.keys() >= {trigger.code for trigger in checkpoint.remedies}:
        yield from falling_cost(checkpoint, catalogue)


def checkpoint_shape_contradictions(
    checkpoint: content.CheckpointEntry, catalogue: Catalogue
) -> Iterator[str]:
    """Contradictions within the checkpoint itself, without its remedies' costs."""
    if checkpoint.place == "ask" and not checkpoint.ask:
        yield "ask: is empty although it is asked by telephone"
    if both := set(checkpoint.prevented_by) & set(checkpoint.hampered_by):
        yield f"hampered_by: {', '.join(sorted(both))} prevents it already"
    if checkpoint.professional_only and not checkpoint.professional:
        yield "professional: is empty although professional_only is true"
    if checkpoint.receipt_clears and not receipt_may_clear(checkpoint):
        yield "receipt_clears: a receipt clears neither structure nor a professional_only doubt"
    if measure := checkpoint.measure:
        scale = catalogue.scales.get(measure.scale)
        if scale and scale.unit != measure.unit:
            yield f"measure: unit {measure.unit!r} is not the scale's {scale.unit!r}"
    triggered = [trigger.code for trigger in checkpoint.remedies]
    for code in sorted({code for code in triggered if triggered.count(code) > 1}):
        yield f"remedies: {code!r} is called for twice"
    for trigger in checkpoint.remedies:
        for level, (probability, extent) in enumerate(
            zip(trigger.probability, trigger.extent, strict=True)
        ):
            if probability > 0 and extent == 0:
                at = f"remedies: {trigger.code}"
                yield f"{at}: is likely at level {level} but has no extent there"


def receipt_may_clear(checkpoint: content.CheckpointEntry) -> bool:
    """Whether a new part settles a doubt: never for structure."""
    return "structural" not in checkpoint.concerns and not checkpoint.professional_only


def falling_cost(checkpoint: content.CheckpointEntry, catalogue: Catalogue) -> Iterator[str]:
    """A worse level may not cost less to repair, however the boat is built."""
    for built_of in ways_of_building(checkpoint, catalogue):
        costs = expected_costs(checkpoint, catalogue, built_of)
        for level in range(1, len(costs)):
            if costs[level] < costs[level - 1] - 0.5:  # half a unit of money is rounding
                yield (
                    f"remedies: expected cost falls from {costs[level - 1]:,.0f} at level "
                    f"{level - 1} to {costs[level]:,.0f} at level {level}"
                )
                return


def ways_of_building(
    checkpoint: content.CheckpointEntry, catalogue: Catalogue
) -> Iterator[Mapping[str, str]]:
    """The usual build, and one for each variant of a remedy that the checkpoint calls for."""
    yield {}
    for trigger in checkpoint.remedies:
        for variant in catalogue.remedies[trigger.code].variants:
            yield {name: values[0] for name, values in variant.applies.items()}


def expected_costs(
    checkpoint: content.CheckpointEntry,
    catalogue: Catalogue,
    built_of: Mapping[str, str] | None = None,
) -> list[float]:
    """Expected cost of the remedies at each level, for the reference boat at the likely rate."""
    prices = {
        trigger.code: reference_price(
            catalogue.remedies[trigger.code].on(built_of or {}), catalogue
        )
        for trigger in checkpoint.remedies
    }
    return [
        sum(
            trigger.probability[level] * trigger.extent[level] * prices[trigger.code]
            for trigger in checkpoint.remedies
        )
        for level in range(len(vocabulary.LEVELS))
    ]


def reference_price(remedy: content.RemedyEntry, catalogue: Catalogue) -> float:
    return remedy.hours.mean * catalogue.money.yard_rate.likely + remedy.parts.mean
