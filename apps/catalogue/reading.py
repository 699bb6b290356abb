"""From the catalogue's TOML files to content, with every fault found and named before failing.

A fault reads `checkpoints/keel.toml: keel-joint-line: levels: needs 5 descriptions, has 4`.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from math import isfinite
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator, ValidationError, validators

from apps.catalogue import checking, content, schema
from apps.catalogue.content import Catalogue, ThreePoints

Document = dict[str, Any]


class CatalogueInvalid(Exception):
    """The files do not make a catalogue; `faults` says why, one line each."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = list(faults)


def read_catalogue(folder: Path) -> Catalogue:
    """The catalogue in `folder`. Raises `CatalogueInvalid` with all faults of all files."""
    documents, faults = read_documents(folder)
    return catalogue_from(documents, faults)


def catalogue_from(documents: Mapping[str, Document], faults: Sequence[str] = ()) -> Catalogue:
    """The catalogue that these documents make; `faults` were found while reading them."""
    faults = [*faults, *misshapen(documents), *checking.dangling_references(documents)]
    if faults:  # what is misshapen cannot be followed any further
        raise CatalogueInvalid(faults)
    catalogue = build(documents)
    faults = [
        *checking.reserved_codes(documents),
        *checking.repeats(documents),
        *checking.contradictions(catalogue, documents),
    ]
    if faults:
        raise CatalogueInvalid(faults)
    return catalogue


def read_documents(folder: Path) -> tuple[dict[str, Document], list[str]]:
    """The files that can be read, by name relative to `folder`, and what is wrong with others."""
    areas = sorted(f"checkpoints/{path.name}" for path in folder.glob("checkpoints/*.toml"))
    documents: dict[str, Document] = {}
    faults = [] if areas else ["checkpoints: has no files"]
    for name in [*schema.FILES, *areas]:
        try:
            documents[name] = tomllib.loads((folder / name).read_text(encoding="utf-8"))
        except FileNotFoundError:
            faults.append(f"{name}: is missing")
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            faults.append(f"{name}: cannot be read: {error}")
    return documents, faults


# TOML knows infinity and not-a-number; costs and beliefs do not.
Validator = validators.extend(  # type: ignore[no-untyped-call]  # untyped in the library
    Draft202012Validator,
    type_checker=Draft202012Validator.TYPE_CHECKER.redefine(
        "number",
        lambda _, given: (
            isinstance(given, int | float) and not isinstance(given, bool) and isfinite(given)
        ),
    ),
)


def misshapen(documents: Mapping[str, Document]) -> Iterator[str]:
    """What is wrong with the shape of the documents."""
    for name, document in documents.items():
        errors = Validator(schema.FILES.get(name, schema.AREA_FILE)).iter_errors(document)
        for error in sorted(errors, key=lambda error: [str(step) for step in error.absolute_path]):
            place = where(document, list(error.absolute_path))
            yield ": ".join([name, *place, phrase(error)])


def where(document: Document, path: list[Any]) -> list[str]:
    """The place of a fault: the code of the entry if there is one, and the key within it."""
    place = []
    if len(path) > 1 and isinstance(path[1], int):
        entry = document[path[0]][path[1]]
        code = entry.get("code") if isinstance(entry, dict) else None
        place.append(code if isinstance(code, str) else f"{path[0]} {path[1] + 1}")
        path = path[2:]
    key = "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in path)
    return [*place, key.removeprefix(".")] if key else place


def phrase(error: ValidationError) -> str:
    """The fault in words."""
    given: Any = error.instance
    wanted: Any = error.validator_value
    schema: Any = error.schema
    match error.validator:
        case "required":
            missing = [key for key in wanted if key not in given]
            return f"lacks {', '.join(missing)}"
        case "additionalProperties":
            known = schema.get("properties", {})
            patterns = schema.get("patternProperties", ())
            unknown = [
                key
                for key in given
                if key not in known and not any(re.search(pattern, key) for pattern in patterns)
            ]
            return f"does not know {', '.join(unknown)}"
        case "enum":
            return f"{given!r} is none of {', '.join(map(repr, wanted))}"
        case "minItems" | "maxItems":
            return f"needs {wanted} {schema.get('title', 'entries')}, has {len(given)}"
        case "minimum" | "maximum":
            bound = "at least" if error.validator == "minimum" else "at most"
            return f"must be {bound} {wanted:g}, is {given:g}"
        case "maxLength":
            return f"may have {wanted} characters, has {len(given)}"
        case "maxProperties":
            return "an exponent needs by = 'loa'"
    return error.message


# --- From documents of the right shape to content ------------------------------------------------


def build(documents: Mapping[str, Document]) -> Catalogue:
    area_files = [doc for name, doc in documents.items() if name.startswith("checkpoints/")]
    area_files.sort(key=lambda doc: doc["position"])
    remedies = documents["remedies.toml"]
    money = content.Money(
        basis=content.Basis(
            base_year=remedies["base_year"],
            currency=remedies["currency"],
            reference_loa_m=float(remedies["reference_loa_m"]),
        ),
        yard_rate=three_points(remedies["yard_rate"]),
        price_index={
            int(year): float(index)
            for year, index in documents["price_index.toml"]["annual"].items()
        },
    )
    return Catalogue(
        money=money,
        areas={
            doc["area"]: content.Area(doc["area"], doc["title"], doc["position"])
            for doc in area_files
        },
        cautions={
            row["code"]: content.Caution(**row) for row in documents["cautions.toml"]["caution"]
        },
        scales={row["code"]: scale(row) for row in documents["scales.toml"]["scale"]},
        enabling={
            row["code"]: content.Enabling(**priced(row))
            for row in documents["enabling.toml"]["enabling"]
        },
        remedies={row["code"]: remedy(row) for row in remedies["remedy"]},
        fees={row["code"]: fee(row) for row in documents["purchase.toml"]["fee"]},
        running={row["code"]: fee(row) for row in documents["running.toml"]["running"]},
        checkpoints=content.in_walking_order(
            (checkpoint(row, doc["area"]) for doc in area_files for row in doc["checkpoint"]),
            {doc["area"]: doc["position"] for doc in area_files},
        ),
    )


def floats(values: Sequence[float]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def three_points(values: Sequence[float]) -> ThreePoints:
    return ThreePoints(*floats(values))


def priced(row: Document) -> Document:
    return {
        "code": row["code"],
        "title": row["title"],
        "hours": three_points(row["hours"]),
        "parts": three_points(row["parts"]),
        "loa_exponent": float(row["scale"].get("exponent", 0)),
        "confidence": row["confidence"],
        "source": row["source"],
    }


def remedy(row: Document) -> content.Remedy:
    return content.Remedy(
        **priced(row),
        area=row["area"],
        count=row.get("count", ""),
        enabling=tuple(sorted(row["enabling"])),
        own_work=row["own_work"],
        own_hours_factor=float(row.get("own_hours_factor", content.OWN_HOURS_FACTOR)),
        urgency=row["urgency"],
        by_price=row["scale"]["by"] == "price",
        variants=tuple(variant(each) for each in row.get("variants", ())),
    )


def variant(row: Document) -> content.Variant:
    return content.Variant(
        applies=particulars(row["applies"]),
        hours=three_points(row["hours"]),
        parts=three_points(row["parts"]),
    )


def particulars(row: Document) -> dict[str, tuple[str, ...]]:
    return {name: tuple(values) for name, values in row.items()}


def scale(row: Document) -> content.Scale:
    lowest, highest = floats(row["range"])
    return content.Scale(
        code=row["code"],
        title=row["title"],
        unit=row["unit"],
        rising=row.get("rising", True),
        lowest=lowest,
        highest=highest,
        breaks=floats(row["breaks"]),
        grades=tuple(
            content.Grade(grade["standard"], grade["grade"], float(grade["value"]))
            for grade in row.get("grades", ())
        ),
        source=row["source"],
    )


def fee(row: Document) -> content.Fee:
    return content.Fee(
        code=row["code"],
        title=row["title"],
        cost=three_points([row["low"], row["likely"], row["high"]]),
        per=row["per"],
        source=row["source"],
    )


# For what a club or a group adds without saying where and when to look at it.
USUAL_PLACE, USUAL_PRIORITY, USUAL_MINUTES = "below", 2, 2


def checkpoint(row: Document, area: str) -> content.Checkpoint:
    belief = row["belief"]
    measure = row.get("measure")
    return content.Checkpoint(
        code=row["code"],
        area=area,
        title=row["title"],
        position=row["position"],
        look=row["look"],
        tools=tuple(row.get("tools", ())),
        levels=tuple(row["levels"]),
        concerns=tuple(row["concerns"]),
        weight=float(row["weight"]),
        walk_away_level=row.get("walk_away_level"),
        cautions=tuple(sorted(row.get("cautions", ()))),
        prevented_by=tuple(row.get("prevented_by", ())),
        professional=row["professional"],
        professional_from=row["professional_from"],
        professional_only=row["professional_only"],
        receipt_clears=row.get("receipt_clears", False),
        belief=content.Belief(
            mu=float(belief["mu"]),
            age=float(belief["age"]),
            care=float(belief["care"]),
            sd=float(belief["sd"]),
            ages_with=belief["ages_with"],
            breakage=float(belief.get("breakage", content.BREAKAGE)),
        ),
        applies=particulars(row.get("applies", {})),
        measure=content.Measure(**measure) if measure else None,
        remedies=tuple(
            content.RemedyCall(call["code"], floats(call["probability"]), floats(call["extent"]))
            for call in row.get("remedies", ())
        ),
        tags=tuple(row.get("tags", ())),
        source=row["source"],
        place=row.get("place", USUAL_PLACE),
        priority=row.get("priority", USUAL_PRIORITY),
        minutes=row.get("minutes", USUAL_MINUTES),
        ask=row.get("ask", ""),
        hampered_by=tuple(row.get("hampered_by", ())),
    )
