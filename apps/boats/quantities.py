"""Feet and pounds for those who think in them: SI is stored, imperial accepted and shown.

A name carries its unit: `loa_m` in SI, `loa_ft` in imperial. Years and hours are the same in both.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Any

import pint

# Exact: the international foot is 0.3048 m and the pound 0.45359237 kg (agreement of 1959), which
# binary fractions in the registry would blur.
_registry: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)

# Finer than anybody measures, coarse enough to show 38 ft as 38 and not 37.99999999999999.
SHOWN_DECIMALS = 4


class Units(StrEnum):
    SI = "si"
    IMPERIAL = "imperial"


@dataclass(frozen=True)
class Imperial:
    """A quantity's imperial name, and how many SI units one of its units is."""

    name: str
    factor: float

    def to_si(self, value: float) -> float:
        return value * self.factor

    def from_si(self, value: float) -> float:
        return round(value / self.factor, SHOWN_DECIMALS)


def _imperial(name: str, unit: str, si_unit: str) -> Imperial:
    return Imperial(name, float(_registry.Quantity(Decimal(1), unit).m_as(si_unit)))


IMPERIAL: Mapping[str, Imperial] = MappingProxyType(
    {
        "loa_m": _imperial("loa_ft", "foot", "metre"),
        "lwl_m": _imperial("lwl_ft", "foot", "metre"),
        "beam_m": _imperial("beam_ft", "foot", "metre"),
        "draught_m": _imperial("draught_ft", "foot", "metre"),
        "displacement_kg": _imperial("displacement_lb", "pound", "kilogram"),
        "ballast_kg": _imperial("ballast_lb", "pound", "kilogram"),
        "sail_area_m2": _imperial("sail_area_sqft", "foot ** 2", "metre ** 2"),
    }
)
SI_NAMES: Mapping[str, str] = MappingProxyType({i.name: si for si, i in IMPERIAL.items()})


def name_in(units: Units, si_name: str) -> str:
    """The name of a particular in these units."""
    if units is Units.IMPERIAL and si_name in IMPERIAL:
        return IMPERIAL[si_name].name
    return si_name


def pointer_as_sent(pointer: str, body: Any) -> str:
    """The pointer into the body as it was sent: `/loa_ft` for `/loa_m` if feet were sent."""
    tokens = []
    for token in pointer.split("/"):
        imperial = IMPERIAL.get(token)
        if imperial and isinstance(body, Mapping) and token not in body and imperial.name in body:
            token = imperial.name
        tokens.append(token)
        if token and isinstance(body, Mapping):
            body = body.get(token)
    return "/".join(tokens)
