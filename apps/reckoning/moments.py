"""Exact mean and spread of the cost of repairing a boat, without simulation.

Given the care class, levels are independent between checkpoints, so the chance that no call of a
set happens is a product over checkpoints. Every quantity here is built from such chances: an
extent E of a remedy is written as a sum of steps, E = sum_e step_e * [E > x_e], one event for each
of its possible extents x_e; enabling work is one event, "a remedy that needs it is called for".
Second moments need the chance of two events together, which differs from the product only where
the two share a checkpoint. The last step mixes over the care class, and over draws of the graders
if the belief is mixed (model section 3).
"""

from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.expected import components_of
from apps.reckoning.priors import CARE_CLASSES
from apps.reckoning.work import YARD_RATE_SD, Purchase, Work, check_belief


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """Exact moments of one boat's costs, in the list's currency.

    work_mean, work_sd: remedies and enabling work. all_in_mean, all_in_sd: with the purchase.
    work_mean_given_care: (3,). remedy_needed, remedy_extent, remedy_mean: (K,) chance, expected
    extent, expected cost. enabling_needed, enabling_mean: (M,).
    """

    work_mean: float
    work_sd: float
    all_in_mean: float
    all_in_sd: float
    work_mean_given_care: Floats
    remedy_needed: Floats
    remedy_extent: Floats
    remedy_mean: Floats
    enabling_needed: Floats
    enabling_mean: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """E events "item i is called for beyond an extent", items being remedies, then enabling works.

    item: (E,) whose event. step: (E,) by how much passing it raises the extent.
    forbidden: (E, T, 5) the calls, by link and level, that must not happen for it not to happen.
    """

    item: Ints
    step: Floats
    forbidden: Bools


def moments(care: Floats, level_given_care: Floats, work: Work, purchase: Purchase) -> Moments:
    """Exact moments of remedies, enabling work and the all-in cost.

    care: (3,); level_given_care: (3, J, 5), zeros where a checkpoint does not apply; or both mixed
    over draws of the graders (see check_belief): then each moment is averaged over them, with the
    variance between them. Raises ValueError naming the field.
    """
    check_belief(care, level_given_care, work)
    care, level_given_care = components_of(care, level_given_care)
    components, remedies = len(care), len(work.remedies)
    steps = _steps(work)
    alone, together = _chances(level_given_care, work, steps)

    # Items that nothing can call for have no events and stay 0.
    called, first = np.unique(steps.item, return_index=True)
    items = remedies + len(work.enabling)
    extent = np.zeros((components, items))  # E[extent | component]
    needed = np.zeros((components, items))
    product = np.zeros((components, items, items))  # E[extent * extent | component]
    if called.size:
        extent[:, called] = np.add.reduceat(alone * steps.step, first, axis=1)
        needed[:, called] = alone[:, first]  # past the lowest step: called for at all
        joint = together * steps.step * steps.step[:, None]
        joint = np.add.reduceat(np.add.reduceat(joint, first, axis=1), first, axis=2)
        product[:, called[:, None], called] = joint

    price = np.concatenate([work.remedies.mean, work.enabling.mean])
    variance = np.concatenate([work.remedies.variance, work.enabling.variance])
    yard = np.concatenate([work.remedies.yard_share, work.enabling.yard_share])
    given_component = extent @ price
    # The yard factor F has mean 1: E[(A + B F)^2] = E[(A + B)^2] + sd^2 E[B^2], with A + B all the
    # work and B its labour.
    second = _second_moment(product, price, variance) + YARD_RATE_SD**2 * _second_moment(
        product, price * yard, variance * yard**2
    )
    mean = float(care @ given_component)
    spread = max(float(care @ second) - mean**2, 0.0)

    price_sd = purchase.asking * purchase.share_sd * (1 + purchase.tax_rate)
    bought = purchase.expected_price * (1 + purchase.tax_rate) + purchase.fixed + purchase.reserve
    cost = care @ extent * price
    return Moments(
        work_mean=mean,
        work_sd=float(np.sqrt(spread)),
        all_in_mean=bought + mean,
        all_in_sd=float(np.sqrt(spread + price_sd**2)),
        work_mean_given_care=_mean_given_care(care, given_component),
        remedy_needed=(care @ needed)[:remedies],
        remedy_extent=(care @ extent)[:remedies],
        remedy_mean=cost[:remedies],
        enabling_needed=(care @ needed)[remedies:],
        enabling_mean=cost[remedies:],
    )


def _mean_given_care(care: Floats, given_component: Floats) -> Floats:
    """(3,), averaged over the draws of the graders; care, given_component: (C,)."""
    by_class = care.reshape(-1, len(CARE_CLASSES))
    total = by_class.sum(axis=0)
    share = np.divide(by_class, total, out=np.ones_like(by_class) / len(by_class), where=total > 0)
    return np.asarray((share * given_component.reshape(by_class.shape)).sum(axis=0))


def _second_moment(product: Floats, price: Floats, variance: Floats) -> Floats:
    """E[(sum_i extent_i price_i)^2 | component], (C,), for independent prices."""
    own = np.einsum("cii,i->c", product, variance)
    total: Floats = own + np.einsum("cij,i,j->c", product, price, price)
    return total


def _steps(work: Work) -> _Steps:
    extent, chance = work.extent, work.chance
    item, step, forbidden = [], [], []
    for remedy in range(len(work.remedies)):
        mine = work.link_remedy == remedy
        reached = np.unique(extent[mine][chance[mine] > 0])
        floors = np.concatenate([[0.0], reached[:-1]])
        for floor, top in zip(floors, reached, strict=False):
            item.append(remedy)
            step.append(top - floor)
            forbidden.append(mine[:, None] & (extent > floor))
    for enabling in range(len(work.enabling)):
        item.append(len(work.remedies) + enabling)
        step.append(1.0)
        forbidden.append(work.needs[work.link_remedy, enabling, None] & (extent > 0))
    shape = (len(item), *extent.shape)
    return _Steps(
        item=np.array(item, dtype=np.intp),
        step=np.array(step, dtype=float),
        forbidden=np.array(forbidden, dtype=bool).reshape(shape),
    )


def _chances(level_given_care: Floats, work: Work, steps: _Steps) -> tuple[Floats, Floats]:
    """Chance of each event, (C, E), and of each two together, (C, E, E), given the component."""
    checkpoints = level_given_care.shape[1]
    # Links of each checkpoint side by side, padded with links that are never called.
    order = np.argsort(work.link_checkpoint, kind="stable")
    row = work.link_checkpoint[order]
    place = np.arange(len(row)) - np.searchsorted(row, row)
    width = int(place.max(initial=0)) + 1
    untriggered = np.ones((checkpoints, width, 5))
    untriggered[row, place] = 1 - work.chance[order]
    forbidden = np.zeros((len(steps.item), checkpoints, width, 5), dtype=bool)
    forbidden[:, row, place] = steps.forbidden[:, order]

    # A checkpoint that does not apply calls for nothing, so it never prevents an event.
    applies: Bools = np.asarray(level_given_care.any(axis=(0, 2)))
    level = np.where(applies[:, None], level_given_care, np.eye(5)[0])
    forbidden &= applies[:, None, None]

    none_here = np.einsum(
        "cjt,ejt->cej", level, np.where(forbidden, untriggered, 1.0).prod(axis=2)
    )  # none of the event's calls comes from this checkpoint
    none = none_here.prod(axis=2)

    neither = none[:, :, None] * none[:, None, :]
    touches: Bools = np.asarray(forbidden.any(axis=(2, 3)))
    for checkpoint in np.flatnonzero(touches.any(axis=0)):
        events = np.flatnonzero(touches[:, checkpoint])
        neither[:, events[:, None], events] *= _dependence(
            level[:, checkpoint],
            untriggered[checkpoint],
            forbidden[events, checkpoint],
            none_here[:, events, checkpoint],
        )

    # Probabilities of a checkpoint may sum to slightly more than 1; a chance must not become
    # negative.
    alone = np.maximum(1 - none, 0.0)
    return alone, alone[:, :, None] + alone[:, None, :] - 1 + neither


def _dependence(level: Floats, untriggered: Floats, forbidden: Bools, none_here: Floats) -> Floats:
    """P(neither of two events by one checkpoint) over the product of their chances, (C, E, E).

    level: (C, 5). untriggered: (W, 5). forbidden: (E, W, 5). none_here: (C, E). 1 where either is
    certain.
    """
    either = forbidden[:, None] | forbidden
    neither_here = np.einsum("ct,abt->cab", level, np.where(either, untriggered, 1.0).prod(axis=2))
    apart = none_here[:, :, None] * none_here[:, None, :]
    ratio: Floats = np.divide(neither_here, apart, out=np.ones_like(apart), where=apart > 0)
    return ratio
