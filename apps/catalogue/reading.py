"""Read the catalogue's TOML files as content, and report all faults at once.

A fault reads `checkpoints/keel.toml: keel-joint-line: levels: needs 5 descriptions, has 4`.
"""

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, make_dataclass
from pathlib import Path
from typing import Annotated, Any

from apps.catalogue import checking, schema
from apps.catalogue.content import (
    AreaEntry,
    CautionEntry,
    CheckpointEntry,
    Code,
    EnablingEntry,
    FeeEntry,
    FiledCheckpoint,
    Position,
    RemedyEntry,
    RunningCostEntry,
    Source,
    ThreePoints,
    Title,
)
from apps.catalogue.fields import Entry, many, number, text
from apps.catalogue.questions import QuestionEntry
from apps.catalogue.scales import ScaleEntry
from apps.catalogue.schema import Document
from apps.catalogue.snapshot import Catalogue, CatalogueCosts, CostBasis, in_walking_order

# --- The files -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class AreaFile(Entry):
    area: Code
    title: Title
    position: Position
    checkpoint: Annotated[tuple[FiledCheckpoint, ...], many("checkpoints", least=1)]


@dataclass(frozen=True)
class RemediesFile(CostBasis):
    yard_rate: ThreePoints
    remedy: tuple[RemedyEntry, ...]


@dataclass(frozen=True)
class PriceIndexFile(Entry):
    code: Code
    title: Title
    source: Source
    annual: Annotated[
        Mapping[Annotated[str, text(4, "^[0-9]{4}$")], Annotated[float, number(0.001, 1e9)]],
        many("years", least=1),
    ]


def list_of(key: str, kind: type[Entry]) -> type[Any]:
    """The type of a file that only holds entries of a kind."""
    return make_dataclass(f"{kind.__name__}File", [(key, tuple[kind, ...])], bases=(Entry,))  # type: ignore[valid-type]  # as the file is


FILES: Mapping[str, type[Entry]] = {
    "remedies.toml": RemediesFile,
    "enabling.toml": list_of("enabling", EnablingEntry),
    "cautions.toml": list_of("caution", CautionEntry),
    "questions.toml": list_of("question", QuestionEntry),
    "scales.toml": list_of("scale", ScaleEntry),
    "purchase.toml": list_of("fee", FeeEntry),
    "running.toml": list_of("running", RunningCostEntry),
    "price_index.toml": PriceIndexFile,
}


# A catalogue from before they existed lacks them.
OPTIONAL = frozenset({"questions.toml"})


def kind_of(name: str) -> type[Entry]:
    return FILES.get(name, AreaFile)


# --- Reading -------------------------------------------------------------------------------------


class CatalogueInvalid(Exception):
    """The files do not make a catalogue; `faults` has one line for each reason."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = list(faults)


def read_catalogue(folder: Path) -> Catalogue:
    """The catalogue in `folder`. Raises `CatalogueInvalid` with all faults of all files."""
    documents, faults = read_documents(folder)
    return catalogue_from(documents, faults)


def catalogue_from(documents: Mapping[str, Document], faults: Sequence[str] = ()) -> Catalogue:
    """The catalogue from these documents; `faults` were found while reading them."""
    faults = [*faults, *misshapen(documents), *checking.dangling_references(documents)]
    if faults:  # malformed documents cannot be checked further
        raise CatalogueInvalid(faults)
    files = {name: schema.read(kind_of(name), payload) for name, payload in documents.items()}
    catalogue = build(files)
    faults = [*checking.repeats(files), *checking.contradictions(catalogue)]
    if faults:
        raise CatalogueInvalid(faults)
    return catalogue


def read_documents(folder: Path) -> tuple[dict[str, Document], list[str]]:
    """The readable files, by name relative to `folder`, and the faults of the others."""
    areas = sorted(f"checkpoints/{path.name}" for path in folder.glob("checkpoints/*.toml"))
    documents: dict[str, Document] = {}
    faults = [] if areas else ["checkpoints: has no files"]
    for name in [*FILES, *areas]:
        try:
            documents[name] = tomllib.loads((folder / name).read_text(encoding="utf-8"))
        except FileNotFoundError:
            if name not in OPTIONAL:
                faults.append(f"{name}: is missing")
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            faults.append(f"{name}: cannot be read: {error}")
    return documents, faults


def misshapen(documents: Mapping[str, Document]) -> Iterator[str]:
    """Faults in the shape of the documents."""
    for name, document in documents.items():
        found = schema.faults(kind_of(name), document)
        for fault in sorted(found, key=lambda fault: [str(step) for step in fault.path]):
            of_key = fault.code in ("required", "unknown_field")  # then the phrase names it
            place = where(document, list(fault.path[:-1] if of_key else fault.path))
            yield ": ".join([name, *place, fault.phrase])


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


def build(files: Mapping[str, Any]) -> Catalogue:
    """The catalogue from well-formed files."""
    areas: list[AreaFile] = [each for each in files.values() if isinstance(each, AreaFile)]
    areas.sort(key=lambda each: each.position)
    remedies: RemediesFile = files["remedies.toml"]
    return Catalogue(
        money=CatalogueCosts(
            basis=CostBasis(remedies.base_year, remedies.currency, remedies.reference_loa_m),
            yard_rate=remedies.yard_rate,
            price_index={int(year): at for year, at in files["price_index.toml"].annual.items()},
        ),
        areas={each.area: AreaEntry(each.area, each.title, each.position) for each in areas},
        cautions=by_code(files["cautions.toml"].caution),
        questions=by_code(files["questions.toml"].question if "questions.toml" in files else ()),
        scales=by_code(files["scales.toml"].scale),
        enabling=by_code(files["enabling.toml"].enabling),
        remedies=by_code(remedies.remedy),
        fees=by_code(files["purchase.toml"].fee),
        running=by_code(files["running.toml"].running),
        checkpoints=in_walking_order(
            (
                CheckpointEntry(area=each.area, **vars(one))
                for each in areas
                for one in each.checkpoint
            ),
            {each.area: each.position for each in areas},
        ),
    )


def by_code(things: Iterable[Any]) -> dict[str, Any]:
    return {thing.code: thing for thing in things}
