"""An invented list of the size that the service must compute quickly."""

from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Ints
from apps.reckoning.costs import Prices, Purchase, Work
from apps.reckoning.grader_priors import WIDENING
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports

BOATS, CHECKPOINTS, GRADERS = 25, 75, 6
REMEDIES, ENABLING, LINKS = 60, 4, 150


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    work: Work
    purchases: list[Purchase]
    valuation: np.ndarray
    budget: float
    area: Ints
    cause: Ints


def invented_prices(count: int, size: float, generator: np.random.Generator) -> Prices:
    likely = size * generator.lognormal(0, 0.9, count)
    return Prices(
        low=likely * generator.uniform(0.4, 0.8, count),
        likely=likely,
        high=likely * generator.uniform(1.3, 2.5, count),
        labour_share=generator.uniform(0.2, 0.9, count),
        quoted=np.zeros(count, dtype=bool),
        quote_sd=np.zeros(count),
    )


def invented_work(generator: np.random.Generator) -> Work:
    """Two remedies per checkpoint, a minor and a major; most belong to several checkpoints."""
    checkpoint = np.repeat(np.arange(CHECKPOINTS), LINKS // CHECKPOINTS)
    remedy = np.concatenate(
        [
            generator.choice(REMEDIES, LINKS // CHECKPOINTS, replace=False)
            for _ in range(CHECKPOINTS)
        ]
    )
    mild = np.array([0, 0.1, 0.8, 0.3, 0.1])
    grave = np.array([0, 0, 0.1, 0.8, 1.0])
    chance = np.where((np.arange(LINKS) % 2 == 0)[:, None], mild, grave)
    counted = generator.random(LINKS) < 0.2
    extent = np.where(counted[:, None], [0, 1, 2, 4, 8], [1, 1, 1, 1, 1])
    return Work(
        remedies=invented_prices(REMEDIES, 900, generator),
        enabling=invented_prices(ENABLING, 800, generator),
        needs=generator.random((REMEDIES, ENABLING)) < 0.15,
        now=generator.random(REMEDIES) < 0.5,
        link_checkpoint=checkpoint,
        link_remedy=remedy,
        link_probability=chance,
        link_extent=extent.astype(float),
    )


def invented_reports(applies: Bools, generator: np.random.Generator) -> Reports:
    """Every rater looks at about half of the checkpoints of about half of the boats."""
    looked = (generator.random((BOATS, 1, GRADERS)) < 0.5) & (
        generator.random((BOATS, CHECKPOINTS, GRADERS)) < 0.5
    )
    boat, checkpoint, grader = np.nonzero(looked & applies[:, :, None])
    true = generator.normal(1.1, 0.9, (BOATS, CHECKPOINTS))
    seen = true[boat, checkpoint] + generator.normal(0, 0.6, len(boat))
    return Reports(
        boat=boat,
        checkpoint=checkpoint,
        grader=grader,
        level=np.clip(np.rint(seen), 0, 4).astype(np.intp),
        widening=generator.choice(list(WIDENING.values()), len(boat)),
    )


def invented_case(seed: int = 1) -> Case:
    generator = np.random.default_rng(seed)
    asking = generator.uniform(20_000, 45_000, BOATS)
    applies = generator.random((BOATS, CHECKPOINTS)) < 0.95
    return Case(
        fleet=Fleet(
            part_age=np.tile(generator.uniform(20, 45, (BOATS, 1)), CHECKPOINTS),
            applies=applies,
        ),
        priors=CheckpointPriors(
            mu=generator.uniform(0.5, 1.5, CHECKPOINTS),
            age=generator.uniform(0.1, 0.3, CHECKPOINTS),
            care=generator.uniform(0.3, 0.9, CHECKPOINTS),
            sd=generator.uniform(0.7, 1.0, CHECKPOINTS),
        ),
        reports=invented_reports(applies, generator),
        work=invented_work(generator),
        purchases=[
            Purchase(asking=float(price), expected_share=0.92, share_sd=0.05, fixed=2_000)
            for price in asking
        ],
        valuation=asking * 1.6 + 30_000,
        budget=90_000.0,
        area=np.arange(CHECKPOINTS) % 22,
        cause=generator.integers(0, 3, CHECKPOINTS),
    )
