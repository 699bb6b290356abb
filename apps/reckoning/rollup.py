"""From one boat's draws to the figures people read: how much, how sure, where from.

Every draw's work is put down to the checkpoints that called for it: a remedy by the extents they
called for, enabling work in equal parts to every call that needed it. So the attributions add up to
the work exactly, draw by draw, and so do their means by area and by cause.
"""

from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.simulation import Draws, Singles
from apps.reckoning.work import Purchase, Work, require

CAUSES = ("seen", "disputed", "not_seen")
LOW, LIKELY, HIGH = 0.10, 0.50, 0.90  # the quantiles shown, of the whole distribution


@dataclass(frozen=True, slots=True)
class Estimate:
    """P10, P50, P90 and mean of a cost, in the list's currency."""

    low: float
    likely: float
    high: float
    mean: float


@dataclass(frozen=True, slots=True)
class Parts:
    """Means of the parts of the all-in cost; they sum to its mean."""

    price: float
    tax: float
    purchase_costs: float
    enabling: float
    now: float
    later: float
    reserve: float


@dataclass(frozen=True, slots=True, eq=False)
class Rollup:
    """What one boat would cost. A screening by non-experts, not a survey.

    all_in, work: estimates, work being remedies and enabling work. within_pot: P(all-in <= pot).
    by_area: (A,), by_cause: (3,) in the order of CAUSES, by_area_and_cause: (A, 3): expected work,
    each summing to work.mean. checkpoint_cost: (J,) the same by checkpoint, checkpoint_share: (J,)
    its part of the variance of the work, summing to 1 (all 0 where nothing varies).
    remedy_cost, remedy_needed: (K,), enabling_cost, enabling_needed: (M,) expected cost and chance.
    """

    all_in: Estimate
    work: Estimate
    within_pot: float
    parts: Parts
    by_area: Floats
    by_cause: Floats
    by_area_and_cause: Floats
    checkpoint_cost: Floats
    checkpoint_share: Floats
    remedy_cost: Floats
    remedy_needed: Floats
    enabling_cost: Floats
    enabling_needed: Floats

    def drivers(self, count: int) -> Ints:
        """The checkpoints that cost most on average, dearest first; those that cost anything."""
        return _largest(self.checkpoint_cost, count)

    def drivers_of_doubt(self, count: int) -> Ints:
        """The checkpoints that the uncertainty of the work comes from, largest part first."""
        return _largest(self.checkpoint_share, count)


def rollup(
    draws: Draws, work: Work, purchase: Purchase, pot: float, *, area: Ints, cause: Ints
) -> Rollup:
    """Sum up one boat's draws.

    work, purchase: as simulated. pot: in the list's currency. area: (J,) from 0. cause: (J,) index
    into CAUSES, why the checkpoint's level is believed. Raises ValueError naming the field.
    """
    checkpoints = draws.level.shape[0]
    require(area.shape == (checkpoints,), "area", f"needs shape ({checkpoints},)")
    require(cause.shape == (checkpoints,), "cause", f"needs shape ({checkpoints},)")
    require(bool(((cause >= 0) & (cause < len(CAUSES))).all()), "cause", "is not in 0..2")
    require(bool((area >= 0).all()), "area", "is negative")

    remedy_draws = draws.remedy_price * draws.extent
    enabling_draws = draws.enabling_price * draws.needed
    remedy_cost = remedy_draws.mean(axis=1, dtype=float)
    enabling_cost = enabling_draws.mean(axis=1, dtype=float)
    attributed = attribute(draws, work, remedy_draws, enabling_draws)
    checkpoint_cost, checkpoint_share = _means_and_shares(attributed, draws.work_cost)

    areas = int(area.max(initial=-1)) + 1
    by_both = np.zeros((areas, len(CAUSES)))
    np.add.at(by_both, (area, cause), checkpoint_cost)
    price = float(draws.price.mean())
    return Rollup(
        all_in=_estimate(draws.all_in),
        work=_estimate(draws.work_cost),
        within_pot=float((draws.all_in <= pot).mean()),
        parts=Parts(
            price=price,
            tax=price * purchase.tax_rate,
            purchase_costs=purchase.fixed,
            enabling=float(enabling_cost.sum()),
            now=float(remedy_cost[work.now].sum()),
            later=float(remedy_cost[~work.now].sum()),
            reserve=purchase.reserve,
        ),
        by_area=by_both.sum(axis=1),
        by_cause=by_both.sum(axis=0),
        by_area_and_cause=by_both,
        checkpoint_cost=checkpoint_cost,
        checkpoint_share=checkpoint_share,
        remedy_cost=remedy_cost,
        remedy_needed=(draws.extent > 0).mean(axis=1),
        enabling_cost=enabling_cost,
        enabling_needed=draws.needed.mean(axis=1),
    )


def attribute(draws: Draws, work: Work, remedy_draws: Singles, enabling_draws: Singles) -> Singles:
    """Every draw's cost of work by the checkpoint that called for it, (J, D).

    remedy_draws: (K, D), enabling_draws: (M, D): cost of each in every draw.
    """
    attributed = np.zeros(draws.level.shape, dtype=np.float32)
    shared = work.links_per_remedy > 1
    needs = work.needs[work.link_remedy]  # (T, M)
    callers = needs.T.astype(np.float32) @ draws.called.astype(np.float32)  # (M, D)
    for_each = np.divide(
        enabling_draws, callers, out=np.zeros_like(enabling_draws), where=callers > 0
    )
    # A shared remedy's cost for one unit of what its callers ask for together.
    asked = np.zeros((int(shared.sum()), len(draws)), dtype=np.float32)
    row = np.cumsum(shared) - 1
    extents = {}
    for link in np.flatnonzero(shared[work.link_remedy]):
        table = work.extent[link].astype(np.float32)
        extents[link] = table[draws.level[work.link_checkpoint[link]]] * draws.called[link]
        asked[row[work.link_remedy[link]]] += extents[link]
    unit = np.divide(remedy_draws[shared], asked, out=np.zeros_like(asked), where=asked > 0)

    for link, (checkpoint, remedy) in enumerate(
        zip(work.link_checkpoint, work.link_remedy, strict=True)
    ):
        if shared[remedy]:
            attributed[checkpoint] += extents[link] * unit[row[remedy]]
        else:
            attributed[checkpoint] += remedy_draws[remedy]
        for each in for_each[needs[link]]:
            attributed[checkpoint] += draws.called[link] * each
    return attributed


def _means_and_shares(attributed: Singles, total: Floats) -> tuple[Floats, Floats]:
    """Mean of each row (J,), and the part of the variance of the total that varies with it (J,).

    cov(row, total) / var(total): the rows sum to the total, so the parts sum to 1.
    """
    mean = attributed.mean(axis=1, dtype=float)
    around = total - total.mean()
    variance = float(around @ around)
    if variance <= 0:
        return mean, np.zeros_like(mean)
    return mean, (attributed @ around.astype(np.float32)).astype(float) / variance


def _estimate(cost: Floats) -> Estimate:
    low, likely, high = np.quantile(cost, [LOW, LIKELY, HIGH])
    return Estimate(float(low), float(likely), float(high), float(cost.mean()))


def _largest(value: Floats, count: int) -> Ints:
    order = np.argsort(-value, kind="stable")[:count]
    return order[value[order] > 0]
