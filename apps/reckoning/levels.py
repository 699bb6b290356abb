"""The five condition levels, and how to read a distribution over them.

0 sound, 1 serviceable, 2 tired, 3 defective, 4 failed. Everywhere in the reckoning the last axis
of an array of level probabilities has length five and sums to 1, or is all zero where the
checkpoint does not apply to the boat.
"""

from typing import Final

import numpy as np
import scipy  # its parts are loaded on first use
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Bools, Floats, Ints

LEVELS: Final = 5
CREDIBLE: Final = 0.10  # a level is credible from this probability on; model.md 1
NOT_APPLICABLE: Final = -1
_EDGES: Final = np.array([0.5, 1.5, 2.5, 3.5])  # between the levels
# The level of a part that broke: cracked or seized (3) and no longer working (4) are equally
# likely. Project's own estimate: no source says how often it is found in time. Tests hold the
# result: one member's "failed" stays a doubt; two members' or a surveyor's is believed.
BROKEN: Final = np.array([0.0, 0.0, 0.0, 0.5, 0.5])


def discretised_normal(mean: ArrayLike, sd: ArrayLike) -> Floats:
    """Probability of each level when a normal variable is rounded to the nearest of them.

    The end levels are open: 0 takes everything below 0.5, 4 everything above 3.5. This is the
    ordered probit model with cut points 0.5, 1.5, 2.5, 3.5 (McCullagh, 1980, JRSS B 42, 109-142).

    mean, sd: broadcast against one another, in levels. Returns (..., 5).
    Raises ValueError where sd is not positive.
    """
    return _levels_last(_between_edges(_edge_scores(mean, sd)))


def _edge_scores(mean: ArrayLike, sd: ArrayLike) -> Floats:
    """(4, ...): how many sd each edge is above the mean. Edges first: numpy is quick on long rows.

    Raises ValueError where sd is not positive.
    """
    centre, scale = np.asarray(mean, float), np.asarray(sd, float)
    if not np.all(scale > 0):
        raise ValueError("sd: must be positive")
    edges = _along_first(_EDGES, max(centre.ndim, scale.ndim))
    return np.asarray((edges - centre) / scale)


def _between_edges(z: Floats) -> Floats:
    """(5, ...): probability of each level, given the (4, ...) scores of the edges."""
    # Take the nearer tail: the difference of two numbers close to 1 loses its digits.
    above, tail = z > 0, scipy.special.ndtr(-np.abs(z))
    rest = 1.0 - tail
    level = np.empty((LEVELS, *z.shape[1:]))
    level[0] = np.where(above[0], rest[0], tail[0])
    around_mean = above[1:] > above[:-1]
    level[1:-1] = np.where(around_mean, rest[1:] - tail[:-1], np.abs(tail[1:] - tail[:-1]))
    level[-1] = np.where(above[-1], tail[-1], rest[-1])
    return level


def _along_first(values: Floats, axes: int) -> Floats:
    """(n,) -> (n, 1, ..., 1), with so many axes added."""
    return values.reshape(-1, *(1,) * axes)


def _levels_last(level: Floats) -> Floats:
    """(5, ...) -> (..., 5)."""
    return np.ascontiguousarray(level.reshape(LEVELS, -1).T).reshape(*level.shape[1:], LEVELS)


def level_prior(mean: ArrayLike, sd: ArrayLike, broken: ArrayLike) -> Floats:
    """Probability of each level before anybody looks: worn, or broken regardless of age and care.

    (1 - broken) of `discretised_normal`, and the rest on levels 3 and 4 (`BROKEN`). mean, sd: in
    levels. broken: share of broken parts, from 0 to below 1. All broadcast. Returns (..., 5).
    Raises ValueError.
    """
    worn, share = discretised_normal(mean, sd), _checked_share(broken)
    return np.asarray((1.0 - share) * worn + share * BROKEN, dtype=np.float64)


def no_better_than(level: Floats, at_least: Ints) -> Floats:
    """The same distribution, conditioned on no level below `at_least`.

    level: (..., 5). at_least: (...), 0 to 4. If all of the distribution is below it, the level is
    `at_least` itself.
    """
    grades = np.arange(LEVELS)
    possible = np.where(grades >= at_least[..., None], level, 0.0)
    total = possible.sum(axis=-1, keepdims=True)
    none = (grades == at_least[..., None]).astype(float)
    return np.asarray(np.where(total > 1e-12, possible / np.maximum(total, 1e-12), none))


def worn_share(mean: ArrayLike, sd: ArrayLike, broken: ArrayLike) -> Floats:
    """Chance that a part is at each level by wear and did not break (Bayes' theorem).

    Arguments as for `level_prior`. Returns (..., 5): 1 at the levels that no breakage leads to.
    """
    share = _checked_share(broken)
    worn = (1.0 - share) * np.maximum(discretised_normal(mean, sd), np.finfo(float).tiny)
    return np.asarray(worn / (worn + share * BROKEN), dtype=np.float64)


def _checked_share(broken: ArrayLike) -> Floats:
    share = np.asarray(broken, float)[..., None]
    if not np.all((share >= 0) & (share < 1)):
        raise ValueError("broken: must be from 0 to below 1")
    return share


def mean_before_rounding(mean: ArrayLike, sd: ArrayLike) -> Floats:
    """Mean of the normal variable behind `discretised_normal`, given the level it rounded to.

    The mean of a normal truncated to the level (Johnson, Kotz & Balakrishnan, 1994, Continuous
    Univariate Distributions 1, 10.1). mean, sd: broadcast, in levels. Returns (..., 5), in levels.
    """
    z = _edge_scores(mean, sd)
    centre, scale = np.asarray(mean, float), np.asarray(sd, float)
    probability = np.maximum(_between_edges(z), np.finfo(float).tiny)
    density = np.zeros((LEVELS + 1, *z.shape[1:]))  # at the far ends 0
    density[1:-1] = np.exp(-0.5 * z**2) / np.sqrt(2.0 * np.pi)
    shifted = centre + scale * (density[:-1] - density[1:]) / probability
    # Where the level is almost impossible the ratio is rounding error; its mean is the nearer edge.
    before = np.where(probability > 1e-200, shifted, centre)
    before[:-1] = np.minimum(before[:-1], _along_first(_EDGES, before.ndim - 1))
    before[1:] = np.maximum(before[1:], _along_first(_EDGES, before.ndim - 1))
    return _levels_last(before)


def mean_level(level: Floats) -> Floats:
    """Expected level; level (..., 5), returns (...)."""
    return level @ np.arange(LEVELS, dtype=float)


def interval(level: Floats, *, mass: float = 0.80) -> Ints:
    """Central interval of a level: at most (1 - mass) / 2 is beyond either end.

    level: (..., 5). Returns (..., 2), lowest and highest level; -1, -1 where all zero.
    """
    tail = (1.0 - mass) / 2.0
    rounding = 1e-12  # a tail of exactly (1 - mass) / 2 must not depend on the last bit
    from_below = np.cumsum(level, axis=-1)
    from_above = np.cumsum(level[..., ::-1], axis=-1)
    low = np.argmax(from_below > tail + rounding, axis=-1)
    high = LEVELS - 1 - np.argmax(from_above > tail + rounding, axis=-1)
    bounds = np.stack([low, high], axis=-1)
    return np.where(_applies(level)[..., None], bounds, NOT_APPLICABLE)


def worst_credible_level(level: Floats, *, credible: float = CREDIBLE) -> Ints:
    """Highest level with probability at least `credible`.

    level: (..., 5). Returns (...); -1 where all zero.
    """
    from_worst = level[..., ::-1] >= credible
    worst = LEVELS - 1 - np.argmax(from_worst, axis=-1)
    return np.where(_applies(level) & from_worst.any(axis=-1), worst, NOT_APPLICABLE)


def entropy(level: Floats) -> Floats:
    """Entropy of a level in bits: 0 when certain, log2(5) = 2.32 when all are equally likely.

    level: (..., 5). Returns (...).
    """
    return np.asarray(scipy.special.entr(level).sum(axis=-1) / np.log(2.0), dtype=np.float64)


def _applies(level: Floats) -> Bools:
    return np.asarray(level.any(axis=-1))
