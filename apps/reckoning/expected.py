"""Exact expected work and cost of a boat, without simulation and without second moments.

Given the care class (and the draw of the graders if the belief is mixed), levels are independent
between checkpoints, so the chance that no call of a set happens is a product over checkpoints.
`moments` adds the spread, which takes much longer.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.work import Purchase, Work, check_belief


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected costs of one boat, in the list's currency.

    price: paid for the boat, before tax. upfront: the cost before she sails. all_in: that and all
    other work. remedy_needed, remedy_cost: (K,) chance that each is called for, and cost.
    enabling_needed: (M,) chance. enabling_now, enabling_later: (M,) cost where a remedy that cannot
    wait needs it, and where only others do.
    """

    price: float
    upfront: float
    all_in: float
    remedy_needed: Floats
    remedy_cost: Floats
    enabling_needed: Floats
    enabling_now: Floats
    enabling_later: Floats


def expected_costs(
    care: Floats, level_given_care: Floats, work: Work, purchase: Purchase
) -> Expected:
    """Means of the costs that `simulate` draws.

    care: (3,); level_given_care: (3, J, 5), zeros where a checkpoint does not apply; or both mixed
    over draws of the graders (see check_belief). Raises ValueError naming the field.
    """
    check_belief(care, level_given_care, work)
    care, level_given_care = components_of(care, level_given_care)
    remedy_cost = _extents(care, level_given_care, work) * work.remedies.mean
    needs, urgent = work.needs[work.link_remedy], work.now[work.link_remedy]  # (T, M), (T,)
    needed_now, needed = (
        np.array([_any_triggered(care, level_given_care, work, among) for among in each.T])
        for each in (needs & urgent[:, None], needs)
    )
    enabling_now = needed_now * work.enabling.mean
    enabling_later = (needed - needed_now) * work.enabling.mean
    upfront = purchase.expected_price * (1 + purchase.tax_rate) + purchase.fixed + purchase.reserve
    upfront += float(remedy_cost[work.now].sum() + enabling_now.sum())
    return Expected(
        price=purchase.expected_price,
        upfront=upfront,
        all_in=upfront + float(remedy_cost[~work.now].sum() + enabling_later.sum()),
        remedy_needed=_called(care, level_given_care, work, work.chance),
        remedy_cost=remedy_cost,
        enabling_needed=needed,
        enabling_now=enabling_now,
        enabling_later=enabling_later,
    )


def expected_extents(care: Floats, level_given_care: Floats, work: Work) -> Floats:
    """Expected extent of each remedy (K,). Arguments and errors as for `expected_costs`."""
    check_belief(care, level_given_care, work)
    return _extents(*components_of(care, level_given_care), work)


def components_of(care: Floats, level_given_care: Floats) -> tuple[Floats, Floats]:
    """(C,), and (C, J, 5): the care classes, of each draw of the graders if there are several."""
    return care.ravel(), level_given_care.reshape(care.size, *level_given_care.shape[-2:])


def _extents(care: Floats, level_given_care: Floats, work: Work) -> Floats:
    """E[extent]: the integral of P(extent > x), a step function over the links' extents."""
    extents, chance = work.extent, work.chance
    extent = np.zeros(len(work.remedies))
    for floor, width in _steps(work.link_remedy, extents, len(extent)):
        above = np.where(extents > floor, chance, 0.0)
        above[width[work.link_remedy] == 0] = 0.0
        extent += width * _called(care, level_given_care, work, above)
    return extent


def _steps(link_remedy: Ints, extents: Floats, count: int) -> Iterator[tuple[float, Floats]]:
    """Every extent, and the gap to the next greater one of each remedy that has it, (count,).

    0 where the remedy has no such extent, or none above it. Every remedy has the extent 0.
    """
    remedy = np.append(np.arange(count), np.repeat(link_remedy, LEVELS))
    value = np.append(np.zeros(count), extents)
    order = np.lexsort((value, remedy))
    remedy, value = remedy[order], value[order]
    width = np.where(np.diff(remedy, append=-1) == 0, np.diff(value, append=0.0), 0.0)
    rises = width > 0  # of several links with the same extent only the last rises
    for floor in np.unique(value[rises]).tolist():
        has = rises & (value == floor)
        of_remedy = np.zeros(count)
        of_remedy[remedy[has]] = width[has]
        yield floor, of_remedy


def _called(care: Floats, level_given_care: Floats, work: Work, chance: Floats) -> Floats:
    """Chance that each remedy is called for, (K,), given each link's chances, (T, 5)."""
    asks = chance.any(axis=1)
    level = level_given_care[:, work.link_checkpoint[asks]]
    called = np.einsum("ctl,tl->ct", level, chance[asks])
    order = np.argsort(work.link_remedy[asks], kind="stable")
    remedies, starts = np.unique(work.link_remedy[asks][order], return_index=True)
    needed = np.zeros(len(work.remedies))
    if len(remedies):
        none = np.multiply.reduceat(1 - called.T[order], starts, axis=0)
        needed[remedies] = np.maximum(1 - none, 0.0) @ care
    return needed


def _any_triggered(care: Floats, level_given_care: Floats, work: Work, among: Bools) -> float:
    """Chance that any of some links calls for its remedy. among: (T,)."""
    asked, at = np.unique(work.link_checkpoint[among], return_inverse=True)
    untriggered = np.ones((len(asked), LEVELS))  # chance that none of them does, at each level
    np.multiply.at(untriggered, at, 1 - work.chance[among])
    # A checkpoint that does not apply has no probability anywhere, and calls for nothing.
    called = np.einsum("cjl,jl->cj", level_given_care[:, asked], 1 - untriggered)
    return float(np.maximum(1 - (1 - called).prod(axis=1), 0.0) @ care)
