"""From one boat's draws to the figures people read: cost, spread and sources of the cost.

Every draw's work is attributed to the checkpoints that called for it: a remedy by the extents they
called for, enabling work in equal parts to every call that needed it. Enabling work that urgent
remedies need is attributed to those alone; remedies that can wait then use it free. So the
attributions add up to the work exactly, draw by draw, and so do their means by area and by cause,
for the work that cannot wait and for the work that can.

Means are exact (`expected`), chances and quantiles are those of the draws.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.expected import Expected
from apps.reckoning.simulation import Draws, Singles
from apps.reckoning.work import Purchase, Work, require

Cause = Literal["seen", "disputed", "not_seen"]
CAUSES: tuple[Cause, ...] = ("seen", "disputed", "not_seen")
LOW, LIKELY, HIGH = 0.10, 0.50, 0.90  # the quantiles shown, of the whole distribution


@dataclass(frozen=True, slots=True)
class CostRange:
    """P10, P50, P90 and mean of a cost, in the list's currency."""

    low: float
    likely: float
    high: float
    mean: float


@dataclass(frozen=True, slots=True)
class CostParts:
    """Means of the parts of the all-in cost; they sum to its mean.

    now, enabling: remedies that cannot wait, and the enabling work that these need. later,
    enabling_later: remedies that can, and the enabling work that only these need. All but the last
    two are paid before she sails.
    """

    price: float
    tax: float
    purchase_costs: float
    enabling: float
    now: float
    reserve: float
    later: float
    enabling_later: float


@dataclass(frozen=True, slots=True, eq=False)
class CostRollup:
    """The cost of one boat. A screening by non-experts, not a survey.

    upfront: the cost before she sails: the purchase with the reserve and the work that
    cannot wait. later: work that can wait. all_in: both. work: all remedies and enabling work.
    within_budget: P(upfront <= budget).
    now_by_area_and_cause, later_by_area_and_cause: (A, 3) expected work by area and by cause in the
    order of CAUSES; both together sum to work.mean.
    checkpoint_cost: (J,) the same by checkpoint.
    remedy_cost, remedy_needed: (K,), enabling_cost, enabling_needed: (M,) expected cost and chance.
    remedy_with_enabling: (K,) expected cost of each remedy with its part of the enabling work.
    remedy_share: (K,) its share of the variance of the work, summing to 1 (all 0 if nothing
    varies).
    """

    upfront: CostRange
    later: CostRange
    all_in: CostRange
    work: CostRange
    within_budget: float
    parts: CostParts
    now_by_area_and_cause: Floats
    later_by_area_and_cause: Floats
    checkpoint_cost: Floats
    remedy_cost: Floats
    remedy_needed: Floats
    remedy_with_enabling: Floats
    remedy_share: Floats
    enabling_cost: Floats
    enabling_needed: Floats

    @property
    def by_area_and_cause(self) -> Floats:
        """All expected work, (A, 3)."""
        return self.now_by_area_and_cause + self.later_by_area_and_cause

    @property
    def by_cause(self) -> Floats:
        """All expected work, (3,)."""
        total: Floats = self.by_area_and_cause.sum(axis=0)
        return total

    def drivers(self, count: int) -> Ints:
        """The remedies with the highest mean cost above 0, dearest first."""
        return _largest(self.remedy_with_enabling, count)

    def drivers_of_doubt(self, count: int) -> Ints:
        """The remedies with the largest shares of the variance of the work, largest first."""
        return _largest(self.remedy_share, count)


def rollup(
    draws: Draws,
    work: Work,
    purchase: Purchase,
    expected: Expected,
    budget: float,
    *,
    area: Ints,
    cause: Ints,
) -> CostRollup:
    """The figures of one boat's draws.

    work, purchase: as simulated. expected: of the same. budget: in the list's currency. area: (J,)
    from 0. cause: (J,) index into CAUSES, the cause of the checkpoint's belief.
    Raises ValueError naming the field.
    """
    checkpoints = draws.level.shape[0]
    require(area.shape == (checkpoints,), "area", f"needs shape ({checkpoints},)")
    require(cause.shape == (checkpoints,), "cause", f"needs shape ({checkpoints},)")
    require(bool(((cause >= 0) & (cause < len(CAUSES))).all()), "cause", "is not in 0..2")
    require(bool((area >= 0).all()), "area", "is negative")

    own, enabling, share = _attribute(draws, work)
    parts, when = _parts(work, purchase, expected), _can_wait(work).astype(int)
    of_link = _brought(own, work.link_remedy, expected.remedy_cost)
    of_link += _brought(enabling, when, np.array([parts.enabling, parts.enabling_later]))
    mean = np.zeros((2, checkpoints))
    np.add.at(mean, (when, work.link_checkpoint), of_link)

    areas = int(area.max()) + 1 if checkpoints else 0
    by_both = np.zeros((2, areas, len(CAUSES)))
    for table, each in zip(by_both, mean, strict=True):
        np.add.at(table, (area, cause), each)
    later = expected.all_in - expected.upfront
    return CostRollup(
        upfront=_estimate(draws.upfront, expected.upfront),
        later=_estimate(draws.all_in - draws.upfront, later),
        all_in=_estimate(draws.all_in, expected.all_in),
        work=_estimate(draws.work_cost, parts.now + parts.enabling + later),
        within_budget=float((draws.upfront <= budget).mean()),
        parts=parts,
        now_by_area_and_cause=by_both[0],
        later_by_area_and_cause=by_both[1],
        checkpoint_cost=mean.sum(axis=0),
        remedy_cost=expected.remedy_cost,
        remedy_needed=expected.remedy_needed,
        remedy_with_enabling=_by_remedy(of_link, work),
        remedy_share=share,
        enabling_cost=expected.enabling_now + expected.enabling_later,
        enabling_needed=expected.enabling_needed,
    )


def _parts(work: Work, purchase: Purchase, expected: Expected) -> CostParts:
    return CostParts(
        price=expected.price,
        tax=expected.price * purchase.tax_rate,
        purchase_costs=purchase.fixed,
        enabling=float(expected.enabling_now.sum()),
        now=float(expected.remedy_cost[work.now].sum()),
        reserve=purchase.reserve,
        later=float(expected.remedy_cost[~work.now].sum()),
        enabling_later=float(expected.enabling_later.sum()),
    )


def _brought(drawn: Floats, group: Ints, exact: Floats) -> Floats:
    """The mean attribution to each link (T,), scaled to the exact sum of each group (G,).

    group: (T,). An amount that no draw needed goes to the links of its group in equal parts.
    """
    total = np.bincount(group, weights=drawn, minlength=len(exact))
    links = np.bincount(group, minlength=len(exact))
    ratio = np.divide(exact, total, out=np.zeros(len(exact)), where=total > 0)
    part = np.divide(exact, links, out=np.zeros(len(exact)), where=links > 0)
    return np.where(total[group] > 0, drawn * ratio[group], part[group])


def _attribute(draws: Draws, work: Work) -> tuple[Floats, Floats, Floats]:
    """Mean cost attributed to each link of a checkpoint and a remedy, of the remedy and of enabling
    work, (T,) each, and the share of each remedy in the variance, (K,).

    The share is cov(attributed, total) / var(total); attributions sum to the total, so shares sum
    to 1.
    """
    remedies, enablings = work.needs.shape
    around = (draws.work_cost - draws.work_cost.mean()).astype(np.float32)
    own, enabled = np.zeros((2, len(draws.asked)))
    covariance = np.zeros(remedies)
    calls = np.zeros_like(draws.extent)  # how many links call for each remedy
    needing: Bools = np.asarray(work.needs.any(axis=1))
    links_of = [np.flatnonzero(work.link_remedy == remedy).tolist() for remedy in range(remedies)]
    for remedy, links in enumerate(links_of):
        cost = draws.remedy_cost[remedy]
        covariance[remedy] = cost @ around
        per_extent = _per_unit(cost, _sum(draws.asked[link] for link in links))
        for link in links:
            own[link] = draws.asked[link] @ per_extent
            if needing[remedy]:
                calls[remedy] += draws.asked[link] > 0

    per_call = [
        _per_unit(cost, _sum(calls[remedy] for remedy in np.flatnonzero(needs & among)))
        for costs, among in zip(_enabling(draws), (work.now, ~work.now), strict=True)
        for needs, cost in zip(work.needs.T, costs, strict=True)
    ]
    for remedy in np.flatnonzero(needing).tolist():
        first = 0 if work.now[remedy] else enablings
        of_call = _sum(per_call[first + each] for each in np.flatnonzero(work.needs[remedy]))
        covariance[remedy] += (of_call * calls[remedy]) @ around
        for link in links_of[remedy]:
            enabled[link] = np.sign(draws.asked[link]) @ of_call
    variance = float(around @ around)
    share = covariance / variance if variance > 0 else np.zeros(remedies)
    return own / len(draws), enabled / len(draws), share


def _enabling(draws: Draws) -> tuple[Singles, Singles]:
    """Cost of each enabling work in every draw, (M, D): where it cannot wait, and where it can."""
    later = draws.needed & ~draws.needed_now
    return draws.enabling_price * draws.needed_now, draws.enabling_price * later


def _sum(rows: Iterable[Singles]) -> Singles:
    """The sum of rows (D,) each; 0 if there are none."""
    return np.asarray(sum(rows))


def _can_wait(work: Work) -> Bools:
    """Whether the remedy of each link is one that can wait, (T,)."""
    return np.asarray(~work.now[work.link_remedy])


def _by_remedy(of_link: Floats, work: Work) -> Floats:
    """Sums over the links of each remedy, (K,)."""
    total = np.zeros(len(work.remedies))
    np.add.at(total, work.link_remedy, of_link)
    return total


def _per_unit(cost: Singles, units: Singles) -> Singles:
    """cost / units; 0 where there are no units, because then there is no cost."""
    return np.asarray(cost / np.maximum(units, np.finfo(np.float32).tiny), dtype=np.float32)


def _estimate(cost: Floats, mean: float) -> CostRange:
    # As np.quantile, which selects the draws on both sides of each quantile one by one: sorting is
    # many times faster.
    place = np.multiply([LOW, LIKELY, HIGH], len(cost) - 1)
    low, likely, high = np.interp(place, np.arange(len(cost)), np.sort(cost))
    return CostRange(float(low), float(likely), float(high), mean)


def _largest(value: Floats, count: int) -> Ints:
    order: Ints = np.argsort(-value, kind="stable")[:count]
    return order[value[order] > 0]
