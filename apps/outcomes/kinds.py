"""Kinds of boats: by how they are built, where that matters, and by age."""

from collections.abc import Mapping

from apps.boats.vocabulary import Drive, HullMaterial, Keel, Rudder
from apps.catalogue.content import CheckpointEntry

AGE = "age"
# The youngest age of each band, in years. Own choice, no source.
AGE_BANDS: Mapping[str, int] = {"under_15": 0, "15_to_29": 15, "30_to_44": 30, "from_45": 45}
AGE_WORDS: Mapping[str, str] = {
    "under_15": "under 15 years",
    "15_to_29": "15 to 29 years",
    "30_to_44": "30 to 44 years",
    "from_45": "45 years and over",
}
BUILDS = {"hull_material": HullMaterial, "keel": Keel, "rudder": Rudder, "drive": Drive}
# These properties may affect every part of a boat.
ALWAYS = ("hull_material", "keel")
TITLES: Mapping[str, str] = {
    "hull_material": "hull",
    "keel": "keel",
    "rudder": "rudder",
    "drive": "drive",
    AGE: "age of the boat",
}

# One kind of boats: a property and its value; ("", "") means all boats.
Cell = tuple[str, str]
ALL: Cell = ("", "")


def age_band(years: float) -> str:
    return next(band for band in reversed(list(AGE_BANDS)) if years >= AGE_BANDS[band])


def words_of(by: str, value: str) -> str:
    """A kind of boats, in words."""
    if by == AGE:
        return AGE_WORDS[value]
    return str(BUILDS[by](value).label) if by else "all boats"


def divided_by(checkpoint: CheckpointEntry) -> tuple[str, ...]:
    """The properties by which boats are divided for a checkpoint."""
    matters = (by for by in BUILDS if by in ALWAYS or by in checkpoint.applies)
    return (*matters, AGE)


def cells_of(
    built_of: Mapping[str, str], age: float | None, respects: tuple[str, ...]
) -> tuple[Cell, ...]:
    """The kinds that a boat belongs to; unknown properties give none."""
    disclosed = dict(built_of) if age is None else {**built_of, AGE: age_band(max(age, 0.0))}
    return (ALL, *((by, disclosed[by]) for by in respects if by in disclosed))
