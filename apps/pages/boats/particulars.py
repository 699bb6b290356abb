"""The particulars of a boat on pages: shown, asked for, and what the unknown ones would change."""

from collections.abc import Iterator
from dataclasses import dataclass

from apps.appraisal.words.phrases import figure, unit_of, words_of
from apps.boats import particulars
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.quantities import IMPERIAL, name_in
from apps.boats.vocabulary import SellerKind, Source
from apps.catalogue.applicability import undecided
from apps.catalogue.snapshot import Catalogue
from apps.common.units import Units, units_shown
from apps.reports.words import capital, count

# An advert nearly always says these, or shows them in a picture.
FIRST = ("keel", "drive", "mast", "standing_rigging")
UNKNOWN = ("", "Not known")
HEADINGS = {
    "engine_hours": "Hours on the engine",
    "build_year": "Built in",
    "engine_year": "Engine of",
    "rigging_year": "Standing rigging of",
    "sails_year": "Sails of",
}


@dataclass(frozen=True)
class AskedField:
    """One field of a form; `options` if it is one of a few words."""

    name: str
    label: str
    value: object = None
    options: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Form:
    """What is asked of a boat: her length in either unit, the reader's first; the first things by
    words; everything else folded away.
    """

    length: list[AskedField]
    first: list[AskedField]
    words: list[AskedField]
    figures: list[AskedField]
    currencies: list[tuple[str, str]]
    seller_kinds: list[tuple[str, str]]


def form_for(candidate_list: CandidateList, boat: Candidate | None = None) -> Form:
    asked = [
        AskedField(
            name,
            heading(name),
            getattr(boat, name, "") or "",
            (UNKNOWN, *((value, capital(str(words))) for value, words in kind.choices)),
        )
        for name, kind in particulars.BUILDS.items()
    ]
    known_first = {"build_year"} if boat is None else set()
    figures = [name for name in particulars.FIGURES if name not in {"loa_m", *known_first}]
    return Form(
        length=[size_field("loa_m", boat, units) for units in (units_shown(), other_units())],
        first=[one for one in asked if one.name in FIRST],
        words=[one for one in asked if one.name not in FIRST],
        figures=[size_field(name, boat, units_shown()) for name in figures],
        currencies=[(code, code) for code in currencies_of(candidate_list)],
        seller_kinds=SellerKind.choices,
    )


def in_units(name: str) -> str:
    """The name of a particular in the reader's units."""
    return name_in(units_shown(), name)


def other_units() -> Units:
    return Units.SI if units_shown() is Units.IMPERIAL else Units.IMPERIAL


def size_field(name: str, boat: Candidate | None, units: Units) -> AskedField:
    """The field for a figure in these units, under its name in the API."""
    asked, value = name_in(units, name), getattr(boat, name, None)
    if asked != name and value is not None:
        value = IMPERIAL[name].from_si(value)
    return AskedField(asked, with_unit(asked), value)


def currencies_of(candidate_list: CandidateList) -> list[str]:
    """Those in which a price can be given: the list's own, and those that it has a rate for."""
    return [candidate_list.currency, *sorted(candidate_list.exchange_rates)]


def heading(name: str) -> str:
    return HEADINGS.get(name) or capital(words_of(name))


def with_unit(name: str) -> str:
    """'Draught (m)' of draught_m, 'Draught (ft)' of draught_ft."""
    unit = unit_of(name).strip()
    return f"{heading(name)} ({unit})" if unit else heading(name)


@dataclass(frozen=True)
class StatedParticular:
    """A particular that somebody stated, and how it is known."""

    label: str
    value: str
    source: str


def known_of(boat: Candidate) -> Iterator[StatedParticular]:
    for name, source in particulars.sources_of(boat).items():
        yield StatedParticular(heading(name), stated(boat, name), str(Source(source).label))


def stated(boat: Candidate, name: str) -> str:
    """A particular that is known, in words or with its unit."""
    if name in particulars.BUILDS:
        return str(getattr(boat, f"get_{name}_display")())
    value = getattr(boat, name)
    return figure(name, value) if name in particulars.SIZES else str(value)


def unknown_of(boat: Candidate, catalogue: Catalogue) -> list[str]:
    """What each unknown particular of her build would change, those of most checks first."""
    built = {name: getattr(boat, name) for name in particulars.BUILDS}
    open_ = undecided(catalogue.checkpoints.values(), built)
    by_most = sorted(open_.items(), key=lambda item: -len(item[1]))
    return [
        f"{heading(name)}: {count(len(checks), 'check is', 'checks are')} on her list only because "
        f"nobody said, “{checks[0].title}” for one."
        for name, checks in by_most
    ]
