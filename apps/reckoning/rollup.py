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
    checkpoint_cost, checkpoint_share = _attribute(draws, work, remedy_draws, enabling_draws)

    areas = int(area.max()) + 1 if checkpoints else 0
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


def _attribute(
    draws: Draws, work: Work, remedy_draws: Singles, enabling_draws: Singles
) -> tuple[Floats, Floats]:
    """Mean of what is put down to each checkpoint (J,), and its part of the variance (J,).

    remedy_draws: (K, D), enabling_draws: (M, D): cost of each job in every draw. The part is
    cov(attributed, total) / var(total); what is attributed sums to the total, so parts sum to 1.
    """
    around = (draws.work_cost - draws.work_cost.mean()).astype(np.float32)
    per_extent = _per_unit(remedy_draws, _total(draws.asked, work.link_remedy, len(remedy_draws)))
    called = draws.asked > 0
    needs = work.needs[work.link_remedy]  # (T, M)
    per_call = [
        _per_unit(cost, called[needing].sum(axis=0, dtype=np.float32))
        for cost, needing in zip(enabling_draws, needs.T, strict=True)
    ]

    checkpoints = draws.level.shape[0]
    mean, covariance = np.zeros(checkpoints), np.zeros(checkpoints)
    for link in np.flatnonzero(called.any(axis=1)):
        checkpoint, remedy = work.link_checkpoint[link], work.link_remedy[link]
        cost = draws.asked[link] * per_extent[remedy]
        for enabling in np.flatnonzero(needs[link]):
            cost += called[link] * per_call[enabling]
        mean[checkpoint] += cost.mean()
        covariance[checkpoint] += cost @ around
    variance = float(around @ around)
    return mean, covariance / variance if variance > 0 else np.zeros(checkpoints)


def _total(asked: Singles, link_remedy: Ints, remedies: int) -> Singles:
    """What all links of each remedy ask for together (K, D)."""
    total = np.zeros((remedies, asked.shape[1]), dtype=np.float32)
    for row, remedy in zip(asked, link_remedy, strict=True):
        total[remedy] += row
    return total


def _per_unit(cost: Singles, units: Singles) -> Singles:
    """cost / units; where there are no units there is no cost, and it is 0."""
    return np.asarray(cost / np.maximum(units, np.finfo(np.float32).tiny), dtype=np.float32)


def _estimate(cost: Floats) -> Estimate:
    low, likely, high = np.quantile(cost, [LOW, LIKELY, HIGH])
    return Estimate(float(low), float(likely), float(high), float(cost.mean()))


def _largest(value: Floats, count: int) -> Ints:
    order: Ints = np.argsort(-value, kind="stable")[:count]
    return order[value[order] > 0]
