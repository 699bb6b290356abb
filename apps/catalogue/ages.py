"""How old what a checkpoint looks at is, and what is taken for granted where nobody knows.

A part with a known renewal year is as old as that. Where nobody knows it, an old boat is not taken
to carry the rig, the sails and the engine she was built with: nobody would have sailed her so long.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Protocol

import numpy as np

from apps.catalogue.content import Checkpoint
from apps.catalogue.scales import Scale
from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.priors import REFERENCE_AGE

# Whose year counts for the age of what a checkpoint looks at.
RENEWED_IN: Mapping[str, str] = MappingProxyType(
    {
        "boat": "build_year",
        "engine": "engine_year",
        "standing_rigging": "rigging_year",
        "sails": "sails_year",
    }
)
# How old, at most, a part is taken for whose year nobody knows: as old as such parts commonly get
# before they are renewed. Common practice, no source: wire is due at 10 to 15 years and often
# left longer, woven sails last 15 to 17, a small diesel about 6,000 hours.
OLDEST_TAKEN: Mapping[str, float] = MappingProxyType(
    {"engine": 30.0, "standing_rigging": 20.0, "sails": 15.0}
)


# What ages with a part and is renewed apart from it: the part's year says nothing of its age.
RENEWED_APART = frozenset({"saildrive-seal-age-years"})
# A boat wears as she ages up to so many years; those that are still there at more have been
# refitted again and again, and come up to so many years more however old they get. Common practice,
# no source; the figures are the project's own estimate.
WEARS_UNTIL, REFITTED_BY = 20.0, 15.0


class Dated(Protocol):
    """A boat, as far as her years go. What is missing from `numbers` nobody knows."""

    @property
    def numbers(self) -> Mapping[str, float]: ...


@dataclass(frozen=True, slots=True)
class PartAge:
    """known: whether the year is; if not, `years` is what the part is taken for."""

    part: str
    years: float
    known: bool


def ages_of(boat: Dated, today: date) -> tuple[PartAge, ...]:
    """In the order of `RENEWED_IN`; a boat whose build year nobody knows is `REFERENCE_AGE`."""
    built = boat.numbers.get("build_year")
    own = REFERENCE_AGE if built is None else max(today.year - built, 0.0)
    return tuple(
        _age(part, boat.numbers.get(year), own, today) for part, year in RENEWED_IN.items()
    )


def _age(part: str, year: float | None, own: float, today: date) -> PartAge:
    if year is None:
        return PartAge(part, min(own, OLDEST_TAKEN.get(part, own)), known=False)
    return PartAge(part, max(today.year - year, 0.0), known=True)


def _counted(age: PartAge) -> float:
    return effective_age(age.years) if age.part == "boat" else age.years


def effective_age(years: float) -> float:
    """The years that a boat of so many years looks like."""
    past = years - WEARS_UNTIL
    return years if past <= 0 else WEARS_UNTIL + REFITTED_BY * -math.expm1(-past / REFITTED_BY)


def part_ages(ages: Sequence[tuple[PartAge, ...]], checkpoints: Sequence[Checkpoint]) -> Floats:
    """(I, J) years, of what each checkpoint looks at on each boat; the boat's own as effective.

    A part is as old as it is: what is renewed in a refit is a younger part.
    """
    parts = list(RENEWED_IN)
    by_part = np.array([[_counted(age) for age in boat] for boat in ages]).reshape(-1, len(parts))
    return by_part[:, [parts.index(c.belief.ages_with) for c in checkpoints]]


def levels_by_year(
    ages: Sequence[tuple[PartAge, ...]],
    checkpoints: Sequence[Checkpoint],
    scales: Mapping[str, Scale],
) -> Ints:
    """(I, J): the level that a thing has at least, by the known year of its part; 0 elsewhere.

    What the scale of its age says holds, whatever it looks like. The boat's own year decides
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
