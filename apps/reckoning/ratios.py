"""Design ratios of a sailing boat from its particulars (model.md section 6).

Six figures that designers and buyers use to compare monohulls of different size. Inputs are SI; the
ratios are defined in feet, pounds and long tons, so the formulas convert first and the results are
the customary numbers. A ratio whose inputs are missing is None, never a guess.

The constants are those of common design texts. None of the ratios is a stability assessment:
stability is judged under ISO 12217-2, from data that a buyer seldom has.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

# Exact by definition: international foot and avoirdupois pound (1959 agreement).
METRES_PER_FOOT = 0.3048
KILOGRAMS_PER_POUND = 0.45359237
POUNDS_PER_LONG_TON = 2240.0
# Sea water as the ratios are defined, in pounds per cubic foot (1,025 kg/m3).
SEA_WATER_LB_PER_CUBIC_FOOT = 64.0


@dataclass(frozen=True, slots=True)
class Particulars:
    """The particulars of one boat that the ratios need; None where it is not known.

    `loa_m` length of hull, `lwl_m` waterline length, `beam_m` greatest beam, `displacement_kg`
    in the condition that `lwl_m` belongs to, `ballast_kg` (0 for an unballasted boat),
    `sail_area_m2` main and full foretriangle.

    Raises ValueError naming the field for a figure that no boat can have.
    """

    loa_m: float | None = None
    lwl_m: float | None = None
    beam_m: float | None = None
    displacement_kg: float | None = None
    ballast_kg: float | None = None
    sail_area_m2: float | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            least_allowed = field.name == "ballast_kg" and value == 0.0
            if value is not None and not least_allowed and not 0.0 < value < math.inf:
                raise ValueError(f"{field.name} must be a positive number, got {value!r}")
        if (
            self.ballast_kg is not None
            and self.displacement_kg is not None
            and self.ballast_kg >= self.displacement_kg
        ):
            raise ValueError(
                f"ballast_kg must be less than displacement_kg, got {self.ballast_kg!r} "
                f"against {self.displacement_kg!r}"
            )


@dataclass(frozen=True, slots=True)
class DesignRatios:
    """The six ratios; None where an input is missing. All without unit except the speed."""

    displacement_length: float | None
    sail_area_displacement: float | None
    ballast_ratio: float | None
    capsize_screening: float | None
    motion_comfort: float | None
    hull_speed_kn: float | None


@dataclass(frozen=True, slots=True)
class VerbalScale:
    """The usual names of a ratio's values: `names[n]` from `limits[n-1]` to below `limits[n]`.

    `caution` says what the figure leaves out.
    """

    limits: tuple[float, ...]
    names: tuple[str, ...]
    caution: str

    def name(self, value: float) -> str:
        """Return the band that `value` falls in."""
        return self.names[bisect_right(self.limits, value)]


# Bands: common practice, no single source; texts differ by up to ten per cent at the edges.
READINGS: Mapping[str, VerbalScale] = MappingProxyType(
    {
        "displacement_length": VerbalScale(
            (100.0, 200.0, 300.0),
            ("ultralight", "light", "moderate", "heavy"),
            "Builders' displacements are often of the empty boat; a loaded one reads higher.",
        ),
        # Most tables have no name for 14 to 15; here it belongs to the cruisers.
        "sail_area_displacement": VerbalScale(
            (14.0, 18.0, 22.0),
            ("low", "cruiser", "performance", "racing"),
            "Holds for main and full foretriangle; a figure with a genoa is not comparable.",
        ),
        "ballast_ratio": VerbalScale(
            (0.30, 0.45),
            ("low", "usual", "high"),
            "Says nothing of how deep the ballast sits, which matters as much.",
        ),
        "capsize_screening": VerbalScale(
            (math.nextafter(2.0, math.inf),),  # 2.0 itself passes
            ("passes the screen", "fails the screen"),
            "A crude screen of beam against weight; ignores ballast, its depth and hull form.",
        ),
        "motion_comfort": VerbalScale(
            (20.0, 30.0, 40.0),
            ("light", "coastal", "moderate", "heavy"),
            "Its author called it half in jest; compare like with like only.",
        ),
        # The wave-making limit is one number, not a scale.
        "hull_speed_kn": VerbalScale(
            (),
            ("wave-making limit",),
            "Not a maximum: light hulls exceed it, and few boats reach it under sail for long.",
        ),
    }
)


def displacement_length(*, displacement_kg: float, lwl_m: float) -> float:
    """Return displacement in long tons over (waterline in feet / 100) cubed.

    Source: D. W. Taylor's coefficient as used by yacht design texts. Valid for displacement
    monohulls, weight and waterline in the same condition; below about 7 m it runs high because
    crew and gear weigh more in proportion.
    """
    long_tons = _pounds(displacement_kg) / POUNDS_PER_LONG_TON
    return long_tons / (0.01 * _feet(lwl_m)) ** 3


def sail_area_displacement(*, sail_area_m2: float, displacement_kg: float) -> float:
    """Return sail area over displaced volume to the power 2/3; the same in feet and in metres.

    Source: yacht design texts, with main and 100% foretriangle. Valid between boats of like type;
    says nothing of stability, so a figure over 22 needs crew weight or deep ballast to be used.
    """
    return (
        sail_area_m2 / METRES_PER_FOOT**2 / math.pow(_displaced_cubic_feet(displacement_kg), 2 / 3)
    )


def ballast_ratio(*, ballast_kg: float, displacement_kg: float) -> float:
    """Return ballast over displacement, both in the same unit.

    Source: common practice. Valid between boats of like draught and keel type; water ballast and
    the weight of a lifting keel count only if the other boat's are counted too.
    """
    return ballast_kg / displacement_kg


def capsize_screening(*, beam_m: float, displacement_kg: float) -> float:
    """Return greatest beam over the cube root of displaced volume.

    Source: joint committee on safety from capsizing of the United States Yacht Racing Union and
    the Society of Naval Architects and Marine Engineers, final report 1985. 2.0 or less passes.
    Valid as a first screen of ballasted monohulls; no use for multihulls, and no stability figure.
    """
    return _feet(beam_m) / math.pow(_displaced_cubic_feet(displacement_kg), 1 / 3)


def motion_comfort(*, displacement_kg: float, loa_m: float, lwl_m: float, beam_m: float) -> float:
    """Return displacement over an estimate of waterplane area, with beam to the power 1.33.

    D / (0.65 (0.7 LWL + 0.3 LOA) B^1.33) in pounds and feet. Source: T. Brewer; the exponent is
    1.33 as its author printed it (4/3, which some use, gives about 1% less). Valid between
    monohulls of like type; for multihulls it means nothing.
    """
    length_ft = 0.7 * _feet(lwl_m) + 0.3 * _feet(loa_m)
    return _pounds(displacement_kg) / (0.65 * length_ft * math.pow(_feet(beam_m), 1.33))


def hull_speed_kn(*, lwl_m: float) -> float:
    """Return 1.34 times the square root of the waterline in feet, in knots.

    The speed whose wave is as long as the waterline. Source: W. Froude's speed-length law with
    the customary constant. Valid for displacement hulls; planing boats, multihulls and very light
    boats exceed it.
    """
    return 1.34 * math.sqrt(_feet(lwl_m))


def design_ratios(particulars: Particulars) -> DesignRatios:
    """Return every ratio that the particulars allow, None for the others."""
    p = particulars
    return DesignRatios(
        displacement_length=(
            None
            if p.displacement_kg is None or p.lwl_m is None
            else displacement_length(displacement_kg=p.displacement_kg, lwl_m=p.lwl_m)
        ),
        sail_area_displacement=(
            None
            if p.sail_area_m2 is None or p.displacement_kg is None
            else sail_area_displacement(
                sail_area_m2=p.sail_area_m2, displacement_kg=p.displacement_kg
            )
        ),
        ballast_ratio=(
            None
            if p.ballast_kg is None or p.displacement_kg is None
            else ballast_ratio(ballast_kg=p.ballast_kg, displacement_kg=p.displacement_kg)
        ),
        capsize_screening=(
            None
            if p.beam_m is None or p.displacement_kg is None
            else capsize_screening(beam_m=p.beam_m, displacement_kg=p.displacement_kg)
        ),
        motion_comfort=(
            None
            if p.displacement_kg is None or p.loa_m is None or p.lwl_m is None or p.beam_m is None
            else motion_comfort(
                displacement_kg=p.displacement_kg, loa_m=p.loa_m, lwl_m=p.lwl_m, beam_m=p.beam_m
            )
        ),
        hull_speed_kn=None if p.lwl_m is None else hull_speed_kn(lwl_m=p.lwl_m),
    )


def _feet(metres: float) -> float:
    return metres / METRES_PER_FOOT


def _pounds(kilograms: float) -> float:
    return kilograms / KILOGRAMS_PER_POUND


def _displaced_cubic_feet(displacement_kg: float) -> float:
    return _pounds(displacement_kg) / SEA_WATER_LB_PER_CUBIC_FOOT
