"""Plausible values of a boat's particulars, and which contradict each other.

The ranges are this project's own, with no source: wide enough for any sailing boat that a few
people would buy second-hand, narrow enough to catch feet sent as metres and pounds as kilograms.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Any

from django.db.models import TextChoices
from django.utils import timezone

from apps.boats import vocabulary as words
from apps.reckoning import ratios

FIRST_YEAR = 1850

# SI, lowest and highest accepted.
SIZES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "loa_m": (3.0, 60.0),
        "lwl_m": (2.0, 60.0),
        "beam_m": (0.8, 15.0),
        "draught_m": (0.1, 7.0),
        "displacement_kg": (100.0, 100_000.0),
        "ballast_kg": (0.0, 60_000.0),
        "sail_area_m2": (3.0, 1_000.0),
    }
)
BUILDS: Mapping[str, type[TextChoices]] = MappingProxyType(
    {
        "hull_material": words.HullMaterial,
        "keel": words.Keel,
        "keel_ballast": words.KeelBallast,
        "rudder": words.Rudder,
        "drive": words.Drive,
        "propeller": words.Propeller,
        "mast": words.Mast,
        "standing_rigging": words.StandingRigging,
        "fuel": words.Fuel,
        "steering": words.Steering,
        "windlass": words.Windlass,
        "holding_tank": words.HoldingTank,
        "teak_deck": words.TeakDeck,
        "heater": words.Heater,
    }
)
YEARS = ("build_year", "engine_year", "rigging_year", "sails_year")
HIGHEST_ENGINE_HOURS = 100_000
FIGURES = (*SIZES, *YEARS, "engine_hours")
PARTICULARS = (*SIZES, *BUILDS, *YEARS, "engine_hours")
RATIOS = tuple(field.name for field in fields(ratios.DesignRatios))

# This project's own bound, no source: the deepest racing keels are under two fifths of the length.
DEEPEST_DRAUGHT_TO_LOA = 0.45


@dataclass(frozen=True)
class Nonsense:
    """An impossible value: the particulars that contradict each other, the least reliable first."""

    fields: tuple[str, ...]
    code: str
    detail: str


def nonsense_in(boat: Any) -> Iterator[Nonsense]:
    """Contradictions among the particulars; unknown ones (None or empty) contradict nothing."""
    yield from _out_of_range(boat)
    yield from _in_the_future(boat)
    yield from _out_of_proportion(boat)


def _out_of_range(boat: Any) -> Iterator[Nonsense]:
    ranges = {
        **SIZES,
        **dict.fromkeys(YEARS, (FIRST_YEAR, float("inf"))),
        "engine_hours": (0, HIGHEST_ENGINE_HOURS),
    }
    for name, (low, high) in ranges.items():
        value = getattr(boat, name)
        if value is not None and not low <= value <= high:
            yield Nonsense(
                (name,), "implausible", f"{value:g} is not between {low:g} and {high:g}."
            )


def _in_the_future(boat: Any) -> Iterator[Nonsense]:
    this_year = timezone.now().year
    for name in YEARS:
        value = getattr(boat, name)
        if value is not None and value > this_year:
            yield Nonsense((name,), "in_the_future", f"{value} is in the future.")


def _out_of_proportion(boat: Any) -> Iterator[Nonsense]:
    loa, lwl, beam, draught = boat.loa_m, boat.lwl_m, boat.beam_m, boat.draught_m
    if loa and lwl and lwl > loa:
        yield Nonsense(
            ("lwl_m", "loa_m"),
            "longer_than_loa",
            f"A waterline of {lwl:g} m does not fit a boat of {loa:g} m.",
        )
    if loa and beam and beam > loa:
        yield Nonsense(
            ("beam_m", "loa_m"),
            "wider_than_long",
            f"A beam of {beam:g} m does not fit a boat of {loa:g} m.",
        )
    if loa and draught and draught > DEEPEST_DRAUGHT_TO_LOA * loa:
        yield Nonsense(
            ("draught_m", "loa_m"),
            "implausible",
            f"A draught of {draught:g} m is implausible for a boat of {loa:g} m.",
        )
    ballast, displacement = boat.ballast_kg, boat.displacement_kg
    if ballast and displacement and ballast >= displacement:
        yield Nonsense(
            ("ballast_kg", "displacement_kg"),
            "heavier_than_the_boat",
            f"Ballast of {ballast:g} kg does not fit a displacement of {displacement:g} kg.",
        )


def sources_of(boat: Any) -> dict[str, str]:
    """How each known particular is known; a claim by default."""
    return {
        name: boat.sources.get(name, words.Source.CLAIMED.value)
        for name in PARTICULARS
        if is_known(getattr(boat, name))
    }


def is_known(value: Any) -> bool:
    return value is not None and value != ""


def ratios_of(boat: Any) -> ratios.DesignRatios:
    """The design ratios whose particulars are known."""
    return ratios.design_ratios(
        ratios.Particulars(
            loa_m=boat.loa_m,
            lwl_m=boat.lwl_m,
            beam_m=boat.beam_m,
            displacement_kg=boat.displacement_kg,
            ballast_kg=boat.ballast_kg,
            sail_area_m2=boat.sail_area_m2,
        )
    )
