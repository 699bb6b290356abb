"""Fleets and reports drawn from the model itself, with the truth kept beside them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.grader_priors import WIDENING
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.reckoning.priors import CARE_PRIOR, CheckpointPriors, Fleet, Reports, prior_levels
from apps.reckoning.reporting import SLIP


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """care: (I,). level: (I, J). lean, spread: (R,). The true values, which the fit never gets."""

    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    care: Ints
    level: Ints
    lean: Floats
    spread: Floats


def simulate(
    rng: np.random.Generator,
    *,
    boats: int,
    checkpoints: int,
    graders: int = 4,
    looked: float = 0.4,
    lean: Floats | None = None,
    spread: Floats | None = None,
    priors: CheckpointPriors | None = None,
    widenings: Sequence[float] = tuple(WIDENING.values()),
    breakage: float = 0.02,
    slip: float = SLIP,
) -> Simulated:
    """Boats of 10 to 45 years; each grader looks at each checkpoint with probability `looked`."""
    fleet = Fleet(
        part_age=np.repeat(rng.uniform(10, 45, (boats, 1)), checkpoints, axis=1),
        applies=np.ones((boats, checkpoints), dtype=bool),
    )
    priors = priors or CheckpointPriors(
        mu=rng.uniform(0.5, 2.0, checkpoints),
        age=rng.uniform(0.1, 0.4, checkpoints),
        care=rng.uniform(0.3, 1.2, checkpoints),
        sd=rng.uniform(0.6, 1.1, checkpoints),
        breakage=np.full(checkpoints, breakage),
    )
    care = rng.choice(3, boats, p=CARE_PRIOR)
    level = draw(rng, prior_levels(fleet, priors)[np.arange(boats), care])
    lean = rng.normal(0.0, 0.5, graders) if lean is None else lean
    spread = np.exp(rng.normal(np.log(0.6), 0.35, graders)) if spread is None else spread
    boat, checkpoint, grader = np.nonzero(rng.random((boats, checkpoints, graders)) < looked)
    widening = rng.choice(widenings, len(boat))
    report = discretised_normal(level[boat, checkpoint] + lean[grader], spread[grader] * widening)
    report = (1 - slip) * report + slip / LEVELS
    reports = Reports(boat, checkpoint, grader, draw(rng, report), widening)
    return Simulated(fleet, priors, reports, care, level, lean, spread)


def draw(rng: np.random.Generator, level: Floats) -> Ints:
    """One level from each distribution; level (..., 5)."""
    reached = rng.random((*level.shape[:-1], 1)) > np.cumsum(level, axis=-1)
    return np.minimum(reached.sum(axis=-1), level.shape[-1] - 1)
