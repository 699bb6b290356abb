"""Converts measured values to a scale's unit and level."""

import re
from dataclasses import dataclass

from apps.catalogue.scales import ScaleEntry

# Only names of units: the parser would evaluate numbers and powers.
UNIT_NAME = re.compile(r"[A-Za-z%µ° ]{1,20}")


@dataclass(frozen=True)
class Measured:
    """A measured value as it was read."""

    value: float
    unit: str


@dataclass(eq=False)
class CannotRead(Exception):
    """The value has no level on the scale; `field` (value or unit) is the fault."""

    field: str
    code: str
    detail: str


def level_on(scale: ScaleEntry, measured: Measured) -> int:
    """The level 0..4 of a value in its own unit. Raises `CannotRead`."""
    value = converted(measured, scale.unit)
    try:
        return scale.level(value)
    except ValueError as error:
        raise CannotRead("value", "out_of_range", f"{error}.") from error


def converted(measured: Measured, unit: str) -> float:
    """The value in another unit. Raises `CannotRead` if the two measure different things."""
    if measured.unit == unit:
        return measured.value
    if not UNIT_NAME.fullmatch(measured.unit):
        raise CannotRead("unit", "unknown_unit", f"{measured.unit!r} is no unit; use {unit!r}.")
    import pint  # it loads slowly, and most values are sent in the scale's own unit

    try:
        read = pint.application_registry.Quantity(measured.value, measured.unit)
        return float(read.to(unit).magnitude)
    except pint.DimensionalityError as error:
        raise CannotRead(
            "unit", "wrong_unit", f"{measured.unit!r} measures something else than {unit!r}."
        ) from error
    except (pint.PintError, ValueError, AssertionError) as error:
        # Scales also use words that convert to nothing (a standard's rating), and the parser fails
        # in various ways on words that it reads as numbers ("nan").
        raise CannotRead(
            "unit", "unknown_unit", f"{measured.unit!r} cannot be turned into {unit!r}."
        ) from error
