"""The utility of an outcome for the buyers (model section 4).

Surplus S = worth - all-in. Regretted surplus U = S - lambda * max(0, upfront - budget): the budget
has to cover the cost before the boat sails, and money over it counts for more than its amount. How
much more depends on how sure the group wants to be. Work that can wait reduces the surplus only.
E[U] is a plain expected utility, so the value of information is never negative.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Floats
from apps.reckoning.simulation import Singles


def overrun_penalty(confidence: float) -> float:
    """lambda = q / (1 - q): the extra penalty for a unit of money over the budget.

    q is the newsvendor's critical ratio cu / (cu + co): a seller who stocks the q quantile of
    demand acts as if a missing unit cost q / (1 - q) times a unit left over (Arrow, Harris &
    Marschak, 1951, Econometrica 19, 250-272). At q = 0.80 lambda is 4. confidence 0 gives 0: the
    budget is no limit. Raises ValueError unless 0 <= confidence < 1.
    """
    if not 0 <= confidence < 1:
        raise ValueError(f"confidence: {confidence} is not in 0..1, 1 excluded")
    return confidence / (1 - confidence)


def surplus(valuation: ArrayLike, all_in: ArrayLike) -> Floats:
    """Worth minus all-in cost, in money; arguments broadcast."""
    result: Floats = np.asarray(valuation, float) - np.asarray(all_in, float)
    return result


def overrun(upfront: ArrayLike, budget: float) -> Floats:
    """Cost before the boat sails beyond the budget, in money; 0 within the budget."""
    return np.maximum(np.asarray(upfront, float) - budget, 0.0)


def regretted_surplus(
    valuation: ArrayLike, all_in: ArrayLike, upfront: ArrayLike, budget: float, penalty: float
) -> Floats:
    """U = worth - all-in - penalty * overrun of the budget by upfront, in money; all broadcast."""
    return surplus(valuation, all_in) - penalty * overrun(upfront, budget)


@dataclass(frozen=True, slots=True)
class Regretted:
    """E[all-in + penalty * overrun], and its standard error from drawing, in money.

    E[U] of any worth is the valuation minus the mean.
    """

    mean: float
    error: float


def regretted(
    upfront: Floats, mean_upfront: float, mean_all_in: float, budget: float, penalty: float
) -> Regretted:
    """Expected cost with the penalty for going over the budget. upfront: (D,) draws.

    The error of the draws' mean overrun is mostly that of their mean upfront cost, whose exact
    mean is known: a control variate (Hammersley & Handscomb, 1964, Monte Carlo Methods, 5.5;
    from memory). Never below the overrun of the mean, by Jensen's inequality.
    """
    over = overrun(upfront, budget)
    mean_over, drawn_mean = float(over.mean()), float(upfront.mean())
    around, beyond = upfront - drawn_mean, over - mean_over
    spread, joint = float(around @ around), float(around @ beyond)
    # A cost that is certain varies by rounding alone, which says nothing.
    rounding = (1e-9 * (1 + abs(mean_upfront))) ** 2 * len(over)
    slope = joint / spread if spread > rounding else 0.0
    expected = mean_over - slope * (drawn_mean - mean_upfront)
    expected = max(expected, mean_upfront - budget, 0.0)
    left = max(float(beyond @ beyond) - slope * joint, 0.0)  # squares around the fitted line
    return Regretted(
        mean=mean_all_in + penalty * expected, error=penalty * math.sqrt(left) / len(upfront)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Cost:
    """The cost of one candidate, in money.

    upfront, all_in: (D,) draws. mean_upfront, mean_all_in: their exact means.
    """

    upfront: Floats
    all_in: Floats
    mean_upfront: float
    mean_all_in: float

    def dearer(self, by: float) -> "Cost":
        """The cost if the price of the boat were higher by this."""
        return Cost(
            self.upfront + by, self.all_in + by, self.mean_upfront + by, self.mean_all_in + by
        )

    def regretted(self, budget: float, penalty: float) -> Regretted:
        """Expected cost with the penalty for going over the budget."""
        return regretted(self.upfront, self.mean_upfront, self.mean_all_in, budget, penalty)

    def drawn(self, budget: float, penalty: float) -> Singles:
        """All-in + penalty * overrun of every draw, (D,): U is a valuation minus that."""
        return (-self.utility(0.0, budget, penalty)).astype(np.float32)

    def utility(self, valuation: float, budget: float, penalty: float) -> Floats:
        """U of every draw, (D,), shifted so that their mean agrees with `regretted`."""
        drawn = regretted_surplus(valuation, self.all_in, self.upfront, budget, penalty)
        moved: Floats = drawn + (valuation - self.regretted(budget, penalty).mean - drawn.mean())
        return moved


def weighted_median(values: ArrayLike, weights: ArrayLike) -> float:
    """Median of values (B,) weighted by weights (B,), e.g. valuations by shares of the purchase.

    The value with at most half of the weight on either side; midway between two where the weight
    splits exactly in half, so that equal weights give the plain median.
    Raises ValueError for no values, a negative weight, or no weight at all.
    """
    value, weight = np.asarray(values, float), np.asarray(weights, float)
    if value.shape != weight.shape or value.ndim != 1 or not value.size:
        raise ValueError(f"values: needs one weight each, has {value.shape} and {weight.shape}")
    if not np.isfinite(value).all():
        raise ValueError("values: one is not a number")
    if not (weight >= 0).all() or not weight.sum() > 0:
        raise ValueError("weights: need to be 0 or more, and not all 0")
    held = weight > 0
    order = np.argsort(value[held], kind="stable")
    ordered = value[held][order]
    below = np.cumsum(weight[held][order]) / weight.sum()
    rounding = 1e-12  # shares like 1/3 do not add up to a half exactly
    low = ordered[np.searchsorted(below, 0.5 - rounding)]
    high = ordered[np.searchsorted(below, 0.5 + rounding)]
    return float((low + high) / 2)
