"""The age of the part that each checkpoint looks at, and the age assumed where nobody knows it.

A part with a known renewal year has its age from that year. If the year is not known, an old boat
is assumed not to carry her original rig, sails and engine: nobody would have sailed her so long.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Literal, Protocol

import numpy as np

from apps.catalogue.content import CheckpointEntry
from apps.catalogue.scales import ScaleEntry
from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.priors import REFERENCE_AGE

# The part whose year gives the age at a checkpoint.
Part = Literal["boat", "engine", "standing_rigging", "sails"]
RENEWED_IN: Mapping[Part, str] = MappingProxyType(
    {
        "boat": "build_year",
        "engine": "engine_year",
        "standing_rigging": "rigging_year",
        "sails": "sails_year",
    }
)
# The greatest age assumed for a part whose year nobody knows: the age at which such parts are
# commonly renewed. Common practice, no source: wire is due at 10 to 15 years and often
# left longer, woven sails last 15 to 17, a small diesel about 6,000 hours.
OLDEST_TAKEN: Mapping[str, float] = MappingProxyType(
    {"engine": 30.0, "standing_rigging": 20.0, "sails": 15.0}
)


# These age with a part but are renewed apart from it: the part's year does not give their age.
RENEWED_APART = frozenset({"saildrive-seal-age-years"})
# A boat wears with age up to this many years. Boats that are older still have been refitted again
# and again, and their effective age rises by at most this many years more. Common practice, no
# source; the figures are the project's own estimate.
WEARS_UNTIL, REFITTED_BY = 20.0, 15.0


class Dated(Protocol):
    """A boat's years and particulars. A value missing from `numbers` is not known."""

    @property
    def numbers(self) -> Mapping[str, float]: ...


@dataclass(frozen=True, slots=True)
class PartAge:
    """known: whether the year is known; if not, `years` is an assumed age."""

    part: Part
    years: float
    known: bool


def ages_of(boat: Dated, today: date) -> tuple[PartAge, ...]:
    """In the order of `RENEWED_IN`; a boat without a known build year is `REFERENCE_AGE` old."""
    built = boat.numbers.get("build_year")
    own = REFERENCE_AGE if built is None else max(today.year - built, 0.0)
    return tuple(
        _age(part, boat.numbers.get(year), own, today) for part, year in RENEWED_IN.items()
    )


def _age(part: Part, year: float | None, own: float, today: date) -> PartAge:
    if year is None:
        return PartAge(part, min(own, OLDEST_TAKEN.get(part, own)), known=False)
    return PartAge(part, max(today.year - year, 0.0), known=True)


def _counted(age: PartAge) -> float:
    return effective_age(age.years) if age.part == "boat" else age.years


def effective_age(years: float) -> float:
    """The age whose usual wear a boat of this age shows."""
    past = years - WEARS_UNTIL
    return years if past <= 0 else WEARS_UNTIL + REFITTED_BY * -math.expm1(-past / REFITTED_BY)


def part_ages(
    ages: Sequence[tuple[PartAge, ...]], checkpoints: Sequence[CheckpointEntry]
) -> Floats:
    """(I, J) years: age of what each checkpoint looks at on each boat; the boat's own as effective.

    A part's age is its actual age: a refit gives a younger part.
    """
    parts: list[str] = list(RENEWED_IN)
    by_part = np.array([[_counted(age) for age in boat] for boat in ages]).reshape(-1, len(parts))
    return by_part[:, [parts.index(c.belief.ages_with) for c in checkpoints]]


def levels_by_year(
    ages: Sequence[tuple[PartAge, ...]],
    checkpoints: Sequence[CheckpointEntry],
    scales: Mapping[str, ScaleEntry],
) -> Ints:
    """(I, J): the lowest level possible by the known year of the part; 0 elsewhere.

    The level of the age scale holds, whatever the part looks like. The boat's own year decides
    nothing: what ages with her is renewed piece by piece.
    """
    known = [{age.part: age.years for age in boat if age.known} for boat in ages]
    levels = np.zeros((len(ages), len(checkpoints)), dtype=np.intp)
    for j, checkpoint in enumerate(checkpoints):
        part, measure = checkpoint.belief.ages_with, checkpoint.measure
        if part == "boat" or measure is None or measure.unit != "years":
            continue
        if measure.scale in RENEWED_APART:
            continue
        scale = scales[measure.scale]
        for i, years in enumerate(known):
            if part in years:
                levels[i, j] = scale.level(min(years[part], scale.highest))
    return levels
