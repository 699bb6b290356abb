"""How old what a checkpoint looks at is, and what is taken for granted where nobody knows.

A part with a known renewal year is as old as that. Where nobody knows it, an old boat is not taken
to carry the rig, the sails and the engine she was built with: nobody would have sailed her so long.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Protocol

import numpy as np

from apps.catalogue.content import Checkpoint
from apps.reckoning.arrays import Floats
from apps.reckoning.belief import REFERENCE_AGE

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


def part_ages(ages: Sequence[tuple[PartAge, ...]], checkpoints: Sequence[Checkpoint]) -> Floats:
    """(I, J) years, of what each checkpoint looks at on each boat."""
    parts = list(RENEWED_IN)
    by_part = np.array([[age.years for age in boat] for boat in ages]).reshape(-1, len(parts))
    return by_part[:, [parts.index(c.belief.ages_with) for c in checkpoints]]
