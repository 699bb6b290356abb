"""Small boats for the tests of costs and looking: hand-made and random, all invented."""

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.costs import Prices, Purchase, Work
from apps.reckoning.levels import discretised_normal
from apps.reckoning.priors import CARE_PRIOR, CARE_SHIFT

CARE = np.array(CARE_PRIOR)


def prices(low, likely, high, labour_share=0.0, quoted=False, quote_sd=0.0) -> Prices:
    """Prices from lists; scalars stand for all."""
    likely = np.atleast_1d(np.array(likely, float))

    def each(value, kind=float):
        return np.broadcast_to(np.array(value, kind), likely.shape).copy()

    return Prices(
        each(low), likely, each(high), each(labour_share), each(quoted, bool), each(quote_sd)
    )


def fixed(*amounts) -> Prices:
    """Prices that are certain."""
    return prices(amounts, amounts, amounts)


def work(remedies, enabling, links, needs=(), now=()) -> Work:
    """links: (checkpoint, remedy, probabilities by level, extents by level); needs: pairs."""
    needed = np.zeros((len(remedies), len(enabling)), dtype=bool)
    for remedy, job in needs:
        needed[remedy, job] = True
    return Work(
        remedies=remedies,
        enabling=enabling,
        needs=needed,
        now=np.isin(np.arange(len(remedies)), now),
        link_checkpoint=np.array([link[0] for link in links], dtype=np.intp),
        link_remedy=np.array([link[1] for link in links], dtype=np.intp),
        link_probability=np.array([link[2] for link in links], float).reshape(-1, 5),
        link_extent=np.array(
            [np.broadcast_to(np.array(link[3], float), 5) for link in links]
        ).reshape(-1, 5),
    )


NO_ENABLING = fixed()
FREE_BOAT = Purchase(asking=0.0)


def levels(mean, care=0.6, sd=0.8) -> Floats:
    """Belief before looking about J checkpoints of these mean levels, (3, J, 5)."""
    mean = np.atleast_1d(np.array(mean, float))
    return discretised_normal(mean + care * np.array(CARE_SHIFT)[:, None], sd)


def certain(*level) -> Floats:
    """Belief that is certain of each checkpoint's level, (3, J, 5)."""
    return np.tile(np.eye(5)[list(level)], (3, 1, 1))


def random_belief(generator: np.random.Generator, checkpoints: int) -> tuple[Floats, Floats]:
    """Care classes and levels; now and then a checkpoint that does not apply."""
    care = generator.dirichlet(np.ones(3))
    level = generator.dirichlet(np.ones(5) * 0.7, (3, checkpoints))
    level[:, generator.random(checkpoints) < 0.1] = 0
    return care, level


def random_prices(generator: np.random.Generator, count: int) -> Prices:
    points = np.sort(generator.uniform(0, 5_000, (3, count)), axis=0)
    return Prices(
        *points,
        labour_share=generator.random(count),
        quoted=generator.random(count) < 0.2,
        quote_sd=generator.choice([0.0, 0.1], count),
    )


def random_work(
    generator: np.random.Generator,
    checkpoints: int,
    *,
    monotone: bool = False,
    remedies: int = 4,
    enabling: int = 2,
) -> Work:
    """Random links; monotone: a worse level needs more work, with a greater chance."""
    pairs = np.argwhere(generator.random((checkpoints, remedies)) < 0.5)
    chance = generator.random((len(pairs), 5)) * (generator.random((len(pairs), 5)) < 0.8)
    extent = generator.integers(0, 4, (len(pairs), 5)).astype(float)
    if monotone:
        chance, extent = np.sort(chance, axis=1), np.sort(extent, axis=1)
    return Work(
        remedies=random_prices(generator, remedies),
        enabling=random_prices(generator, enabling),
        needs=generator.random((remedies, enabling)) < 0.4,
        now=generator.random(remedies) < 0.5,
        link_checkpoint=pairs[:, 0],
        link_remedy=pairs[:, 1],
        link_probability=chance,
        link_extent=extent,
    )


def random_purchase(generator: np.random.Generator) -> Purchase:
    return Purchase(
        asking=float(generator.uniform(5_000, 40_000)),
        expected_share=float(generator.uniform(0.8, 1.0)),
        share_sd=float(generator.uniform(0, 0.1)),
        fixed=float(generator.uniform(0, 3_000)),
        tax_rate=float(generator.choice([0.0, 0.07])),
        reserve_rate=float(generator.uniform(0, 0.1)),
    )
