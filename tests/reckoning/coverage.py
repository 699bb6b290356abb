"""How often an 80% interval holds the truth, on lists drawn from the model and on others.

A level is whole, so its interval is judged by the randomised probability integral transform, which
is uniform where the belief is right (Czado, Gneiting & Held, 2009, Biometrics 65, 1254-1261; from
memory): it lies between 0.1 and 0.9 in 80% of all cases.
"""

from collections import defaultdict
from dataclasses import dataclass
from typing import Final

import numpy as np

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.belief import Belief
from apps.reckoning.condition import condition_score
from apps.reckoning.costs import Purchase, Work, expected_costs, rollup, simulate
from apps.reckoning.grader_priors import WIDENING, member_prior
from apps.reckoning.levels import LEVELS
from apps.reckoning.mixture import fit_mixed
from apps.reckoning.priors import (
    CARE_PRIOR,
    CheckpointPriors,
    Fleet,
    Reports,
    expected_levels,
    prior_levels,
)
from apps.reckoning.reporting import SLIP, log_report
from tests.reckoning.simulated import draw

KINDS: Final = ("model", "two kinds of care", "heavy tails", "leans by area")
AREAS: Final = 20
TAILS: Final = 4  # degrees of freedom of Student's t in place of the normal
LEAN_BY_AREA: Final = 0.4  # levels, standard deviation round a person's own lean
FEW: Final = 64  # draws of the truth, of which one is used
PURCHASE: Final = Purchase(asking=30_000, expected_share=0.92, share_sd=0.05, fixed=2_000)


@dataclass(frozen=True, slots=True, eq=False)
class List:
    """level: (I, J), lean, spread: (R,), all true."""

    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    level: Ints
    lean: Floats
    spread: Floats


@dataclass(frozen=True, slots=True)
class Case:
    """What kind of list, and how much of it people looked at."""

    kind: str
    boats: int
    graders: int
    looked: float


def drawn_list(case: Case, priors: CheckpointPriors, rng: np.random.Generator) -> List:
    """A list whose truth follows the model, or not (`case.kind`)."""
    boats, checkpoints = case.boats, len(priors.mu)
    fleet = Fleet(
        part_age=np.repeat(rng.uniform(10, 45, (boats, 1)), checkpoints, axis=1),
        applies=np.ones((boats, checkpoints), dtype=bool),
    )
    area = np.arange(checkpoints) % AREAS
    level = _levels(case.kind, fleet, priors, area, rng)
    lean = rng.normal(0.0, 0.5, case.graders)
    spread = np.exp(rng.normal(np.log(0.6), 0.35, case.graders))
    looked = rng.random((boats, checkpoints, case.graders)) < case.looked
    boat, checkpoint, grader = np.nonzero(looked)
    widening = rng.choice(list(WIDENING.values()), len(boat))
    leaning = lean[grader]
    if case.kind == "leans by area":
        leaning = (
            leaning + rng.normal(0, LEAN_BY_AREA, (case.graders, AREAS))[grader, area[checkpoint]]
        )
    sd, true = spread[grader] * widening, level[boat, checkpoint]
    if case.kind == "heavy tails":
        report = _whole(true + leaning + sd * rng.standard_t(TAILS, len(boat)))
    else:
        told = np.exp(log_report(leaning[:, None], sd[:, None], SLIP))[:, 0]  # (N, report, level)
        report = draw(rng, told[np.arange(len(boat)), :, true])
    return List(
        fleet, priors, Reports(boat, checkpoint, grader, report, widening), level, lean, spread
    )


def _levels(
    kind: str, fleet: Fleet, priors: CheckpointPriors, area: Ints, rng: np.random.Generator
) -> Ints:
    """(I, J) true levels."""
    boats = np.arange(len(fleet.applies))
    care = rng.choice(3, len(boats), p=CARE_PRIOR)
    if kind == "heavy tails":
        mean = expected_levels(fleet, priors)[boats, care]
        return _whole(mean + priors.sd * rng.standard_t(TAILS, mean.shape))
    by_care = prior_levels(fleet, priors)
    level = draw(rng, by_care[boats, care])
    if kind == "two kinds of care":  # of the deck, say, and of the engine
        other = draw(rng, by_care[boats, rng.choice(3, len(boats), p=CARE_PRIOR)])
        level = np.where(area % 2 == 0, level, other)
    return level


def _whole(level: Floats) -> Ints:
    return np.clip(np.rint(level), 0, LEVELS - 1).astype(np.intp)


def held(
    case: Case,
    priors: CheckpointPriors,
    work: Work,
    *,
    lists: int,
    seed: int,
    draws: int = 2048,
    fitted=fit_mixed,
) -> dict[str, Floats]:
    """For each kind of interval, the share of each list's that held the truth; (lists,) each."""
    shares = defaultdict(list)
    for number in range(lists):
        rng = np.random.default_rng([seed, number])
        one = drawn_list(case, priors, rng)
        belief = fitted(one.fleet, priors, one.reports, member_prior(case.graders))
        for name, inside in _inside(one, belief, work, rng, draws):
            shares[name].append(np.mean(inside))
    return {name: np.array(share) for name, share in shares.items()}


def _inside(one: List, belief: Belief, work: Work, rng: np.random.Generator, draws: int):
    below = np.cumsum(belief.level, axis=-1)
    high = np.take_along_axis(below, one.level[..., None], -1)[..., 0]
    chance = np.take_along_axis(belief.level, one.level[..., None], -1)[..., 0]
    yield "levels", abs(high - chance * rng.random(high.shape) - 0.5) < 0.4

    weights = np.ones(len(one.priors.mu))
    condition = condition_score(belief, one.fleet, one.reports, weights)
    score = 100 * (1 - one.level.mean(axis=1) / (LEVELS - 1))
    yield "condition", (condition.low <= score) & (score <= condition.high)

    low, high = belief.graders.lean_interval().T
    yield "leans", (low <= one.lean) & (one.lean <= high)
    low, high = belief.graders.spread_interval().T
    yield "spreads", (low <= one.spread) & (one.spread <= high)
    yield (
        "all-in",
        [
            _all_in_held(one.level[i], belief.of_boat(i), work, rng, draws)
            for i in range(len(one.level))
        ],
    )


def _all_in_held(
    level: Ints, belief: tuple[Floats, Floats], work: Work, rng: np.random.Generator, draws: int
) -> bool:
    """The true cost: calls and prices drawn once, at the true levels."""
    known = np.broadcast_to(np.eye(LEVELS)[level], (3, len(level), LEVELS))
    seeds = rng.integers(2**31, size=2)
    true = simulate(np.array(CARE_PRIOR), known, work, PURCHASE, seed=int(seeds[0]), draws=FEW)
    told = simulate(*belief, work, PURCHASE, seed=int(seeds[1]), draws=draws)
    none = np.zeros(len(level), dtype=np.intp)
    exact = expected_costs(*belief, work, PURCHASE)
    figures = rollup(told, work, PURCHASE, exact, 1e6, area=none, cause=none)
    return bool(figures.all_in.low <= true.all_in[rng.integers(FEW)] <= figures.all_in.high)
