"""Imperial units: SI is stored, imperial is accepted and shown.

A name carries its unit: `loa_m` in SI, `loa_ft` in imperial. Years and hours are the same in both.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from apps.common.units import Units
from apps.reckoning.ratios import KILOGRAMS_PER_POUND, METRES_PER_FOOT

# Finer than anybody measures, coarse enough to show 38 ft as 38 and not 37.99999999999999.
SHOWN_DECIMALS = 4


@dataclass(frozen=True)
class Imperial:
    """A quantity's imperial name, and the size of its unit in SI."""

    name: str
    factor: float

    def to_si(self, value: float) -> float:
        return value * self.factor

    def from_si(self, value: float) -> float:
        return round(value / self.factor, SHOWN_DECIMALS)


IMPERIAL: Mapping[str, Imperial] = MappingProxyType(
    {
        "loa_m": Imperial("loa_ft", METRES_PER_FOOT),
        "lwl_m": Imperial("lwl_ft", METRES_PER_FOOT),
        "beam_m": Imperial("beam_ft", METRES_PER_FOOT),
        "draught_m": Imperial("draught_ft", METRES_PER_FOOT),
        "displacement_kg": Imperial("displacement_lb", KILOGRAMS_PER_POUND),
        "ballast_kg": Imperial("ballast_lb", KILOGRAMS_PER_POUND),
        "sail_area_m2": Imperial("sail_area_sqft", METRES_PER_FOOT**2),
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
