"""Priors of levels, before anybody looks (model section 2)."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS, level_prior, no_better_than

# Care classes, their prior and their shift in levels (times a checkpoint's `care`): model.md 1.
CARE_CLASSES: Final = ("cherished", "ordinary", "neglected")


CARE_PRIOR: Final = (0.25, 0.50, 0.25)


CARE_SHIFT: Final = (-0.6, 0.0, 0.8)


REFERENCE_AGE: Final = 30.0  # years; mu is the mean level at this age; model.md 1


@dataclass(frozen=True, slots=True, eq=False)
class CheckpointPriors:
    """Expected levels of each checkpoint before looking. All (J,), in levels.

    mu: mean at 30 years and ordinary care. age: rise per decade. care: share of the care class's
    shift that shows here. sd: spread of boats of the same age and care, positive. breakage: share
    of boats of 30 years on which it is broken whatever their care, from 0 to below 1 (`broken_by`);
    None if nothing breaks.
    """

    mu: Floats
    age: Floats
    care: Floats
    sd: Floats
    breakage: Floats | None = None

    def __post_init__(self) -> None:
        for name in self.__slots__:
            if (value := getattr(self, name)) is not None:
                check(value.shape == self.mu.shape, name, "one value a checkpoint")
                check(np.isfinite(value), name, "a number")
        check(self.sd > 0, "sd", "positive")
        if self.breakage is not None:
            check((self.breakage >= 0) & (self.breakage < 1), "breakage", "from 0 to below 1")

    def only(self, checkpoints: Ints) -> "CheckpointPriors":
        """Those of some checkpoints."""
        breakage = None if self.breakage is None else self.breakage[checkpoints]
        mu, age, care, sd = (of[checkpoints] for of in (self.mu, self.age, self.care, self.sd))
        return CheckpointPriors(mu, age, care, sd, breakage)


@dataclass(frozen=True, slots=True, eq=False)
class Fleet:
    """The boats as known before anybody looks.

    part_age: (I, J) years, since the renewal where the part has one, else the boat's age.
    applies: (I, J), whether the checkpoint applies to the boat.
    shift: (I, J) levels, how much worse boats of this kind are than others of their age; None where
    nothing is known of the kind.
    at_least: (I, J), the level that follows from the year of a part, however good it looks; None
    where none is known.
    care_likelihood: (I, 3), likelihood of each care class from other facts about the boat, up to a
    factor, positive; None where there are none.
    """

    part_age: Floats
    applies: Bools
    shift: Floats | None = None
    at_least: Ints | None = None
    care_likelihood: Floats | None = None

    def __post_init__(self) -> None:
        if self.care_likelihood is not None:
            shape = (len(self.applies), len(CARE_CLASSES))
            check(self.care_likelihood.shape == shape, "care_likelihood", "one a boat and class")
            check(self.care_likelihood > 0, "care_likelihood", "positive")
        if self.at_least is not None:
            check(self.at_least.shape == self.applies.shape, "at_least", "of the shape of applies")
            check((self.at_least >= 0) & (self.at_least < LEVELS), "at_least", "from 0 to 4")
        if self.shift is not None:
            check(self.shift.shape == self.applies.shape, "shift", "of the shape of applies")
            check(np.isfinite(self.shift), "shift", "a number of levels")
        check(self.part_age.shape == self.applies.shape, "part_age", "of the shape of applies")
        check(np.isfinite(self.part_age) | ~self.applies, "part_age", "a number of years")

    def part(self, boats: slice) -> "Fleet":
        """Some of the boats."""
        shift = None if self.shift is None else self.shift[boats]
        at_least = None if self.at_least is None else self.at_least[boats]
        care = None if self.care_likelihood is None else self.care_likelihood[boats]
        return Fleet(self.part_age[boats], self.applies[boats], shift, at_least, care)

    def only(self, boats: Ints, checkpoints: Ints) -> "Fleet":
        """Some of the boats, with some of the checkpoints."""
        cells = np.ix_(boats, checkpoints)
        shift = None if self.shift is None else self.shift[cells]
        at_least = None if self.at_least is None else self.at_least[cells]
        care = None if self.care_likelihood is None else self.care_likelihood[boats]
        return Fleet(self.part_age[cells], self.applies[cells], shift, at_least, care)


@dataclass(frozen=True, slots=True, eq=False)
class Reports:
    """What was reported; one entry a report, all (N,). 'Could not look' is no report.

    level: 0..4. widening: factor on the grader's spread by how sure the report was
    (`graders.WIDENING`): positive, a few distinct values.
    """

    boat: Ints
    checkpoint: Ints
    grader: Ints
    level: Ints
    widening: Floats

    def __post_init__(self) -> None:
        for name in self.__slots__:
            check(getattr(self, name).shape == (len(self.level),), name, "one value a report")
        check((self.level >= 0) & (self.level < LEVELS), "level", "from 0 to 4")
        check(np.isfinite(self.widening) & (self.widening > 0), "widening", "positive")

    def __len__(self) -> int:
        return len(self.level)

    def where(self, keep: Bools) -> "Reports":
        """Those of the reports; keep (N,)."""
        return Reports(*(getattr(self, name)[keep] for name in self.__slots__))

    def counted_among(self, boats: Ints, checkpoints: Ints) -> "Reports":
        """The same reports, where only these boats and checkpoints count; both rising, and all of
        the reports are on them.
        """
        boat = np.searchsorted(boats, self.boat)
        checkpoint = np.searchsorted(checkpoints, self.checkpoint)
        return Reports(boat, checkpoint, self.grader, self.level, self.widening)


def prior_levels(fleet: Fleet, priors: CheckpointPriors, cells: Bools | None = None) -> Floats:
    """(I, 3, J, 5): P(level | care class) before anybody looked; zeros elsewhere.

    cells: (I, J), those to compute; all that apply by default.
    """
    boat, checkpoint = np.nonzero(fleet.applies if cells is None else cells)
    mean = expected_levels(fleet, priors)[boat, :, checkpoint]
    sd, broken = spread_about(fleet, priors, boat, checkpoint)
    prior = np.zeros((*fleet.applies.shape, len(CARE_CLASSES), LEVELS))
    level = level_prior(mean, sd, broken)
    if fleet.at_least is not None:
        level = no_better_than(level, fleet.at_least[boat, checkpoint, None])
    prior[boat, checkpoint] = level
    return prior.transpose(0, 2, 1, 3)


def expected_levels(fleet: Fleet, priors: CheckpointPriors) -> Floats:
    """(I, 3, J): mean of the variable behind each level, by care class."""
    if fleet.applies.shape[1] != len(priors.mu):
        raise ValueError("mu: need one for each checkpoint of the fleet")
    decades = (np.where(fleet.applies, fleet.part_age, REFERENCE_AGE) - REFERENCE_AGE) / 10.0
    ordinary = priors.mu + priors.age * decades + (0.0 if fleet.shift is None else fleet.shift)
    by_care = priors.care * np.array(CARE_SHIFT)[:, None]
    return np.asarray(ordinary[:, None, :] + by_care)


def spread_about(
    fleet: Fleet, priors: CheckpointPriors, boat: Ints, checkpoint: Ints
) -> tuple[Floats, Floats]:
    """sd, and share that is broken, of some cells; both (N, 1), as `level_prior` takes them."""
    broken = np.zeros(len(boat))
    if priors.breakage is not None:
        broken = broken_by(fleet.part_age[boat, checkpoint], priors.breakage[checkpoint])
    return priors.sd[checkpoint, None], broken[:, None]


def broken_by(age: Floats | float, breakage: Floats | float) -> Floats:
    """Share that is broken and not repaired at an age in years, if `breakage` is at 30 years.

    The chance is the same every year, so new parts have none. Broadcast. Project's own estimate.
    """
    kept = 1.0 - np.asarray(breakage, float)
    return np.asarray(1.0 - kept ** (np.maximum(age, 0.0) / REFERENCE_AGE))


def care_beforehand(fleet: Fleet, care_prior: tuple[float, ...] | Floats) -> Floats:
    """(I, 3): P(care class) of each boat before anybody looked. Raises ValueError."""
    prior = np.tile(checked_care_prior(care_prior), (len(fleet.applies), 1))
    if fleet.care_likelihood is not None:
        prior *= fleet.care_likelihood
        prior /= prior.sum(axis=1, keepdims=True)
    return prior


def checked_care_prior(care_prior: tuple[float, ...] | Floats) -> Floats:
    """(3,) array. Raises ValueError unless it is a distribution."""
    prior = np.asarray(care_prior, dtype=np.float64)
    check(prior.shape == (len(CARE_CLASSES),), "care_prior", "one probability a care class")
    check(
        (prior >= 0) & (abs(prior.sum() - 1.0) < 1e-9), "care_prior", "probabilities that sum to 1"
    )
    return prior


def check_inside(fleet: Fleet, reports: Reports, graders: int) -> None:
    boats, checkpoints = fleet.applies.shape
    for name, end in (("boat", boats), ("checkpoint", checkpoints), ("grader", graders)):
        index = getattr(reports, name)
        check((index >= 0) & (index < end), name, f"from 0 to {end - 1}")
    check(
        fleet.applies[reports.boat, reports.checkpoint],
        "checkpoint",
        "one that applies to the boat",
    )


def check(holds: Bools | bool, field: str, must_be: str) -> None:
    """Raise ValueError naming the field and the first entry for which it does not hold."""
    if np.all(holds):
        return
    entry = "".join(f"[{int(at)}]" for at in np.argwhere(~np.asarray(holds))[0])
    raise ValueError(f"{field}{entry}: must be {must_be}")
