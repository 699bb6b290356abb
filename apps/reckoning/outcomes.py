"""Results of surveys and bills: shares and means with intervals, and their effect on estimates.

Figures for people: a share with Jeffreys' interval, a mean and a geometric mean with Student's.
Figures for the reckoning: how far expected levels, and the price of a remedy, differ from the
catalogue's. The catalogue counts as a number of observations, so that a few new ones move it little
and many move it much (Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 2, 3 and 14); without
data it stays.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.estimates import within
from apps.reckoning.levels import LEVELS, level_prior, mean_before_rounding
from apps.reckoning.priors import CARE_PRIOR, CARE_SHIFT
from apps.reckoning.work import YARD_RATE_SD, Prices, require

MASS: Final = 0.80  # of the intervals, as in all results for people
TROUBLE: Final = 3  # trouble: a level of defective or failed
# How many surveys the catalogue's levels count as, and how many bills its prices. Own choice, no
# source: ten surveys weigh a third, ten bills a half.
SURVEYS_STRENGTH: Final = 20.0
BILLS_STRENGTH: Final = 10.0
# A bill further than this factor from its estimate is for other work: it counts as this factor.
FURTHEST: Final = float(np.log(20.0))
MAX_ROUNDS: Final = 500


@dataclass(frozen=True, slots=True)
class Estimated:
    """A figure with the ends of its interval."""

    value: float
    low: float
    high: float


# --- For people ----------------------------------------------------------------------------------


def share_of(count: int, of: int, *, mass: float = MASS) -> Estimated:
    """A share, `count` of `of`, with Jeffreys' interval.

    The interval is the middle of the posterior Beta(count + 1/2, of - count + 1/2) under the prior
    Beta(1/2, 1/2); with none or all it reaches to that end (Brown, Cai & DasGupta, 2001,
    Statistical Science 16(2), 101-133, section 4.1.1). Raises ValueError.
    """
    require(0 <= count <= of and of > 0, "count", f"{count} of {of} is no share")
    tail = (1 - mass) / 2
    posterior = scipy.stats.beta(count + 0.5, of - count + 0.5)
    low = 0.0 if count == 0 else float(posterior.ppf(tail))
    high = 1.0 if count == of else float(posterior.ppf(1 - tail))
    return Estimated(count / of, low, high)


def mean_of(
    values: Sequence[float], *, prior_sd: float = 1.0, prior_weight: float = 0.0, mass: float = MASS
) -> Estimated:
    """The mean of at least two values with Student's interval.

    prior_sd, prior_weight: the spread assumed beforehand, and the number of observations that it
    counts as, so that a few values that happen to agree do not look certain (scaled inverse
    chi-squared; Gelman et al., 3.2, with a flat prior on the mean). Weight 0 is the interval of
    Student (1908). Raises ValueError.
    """
    x = np.asarray(values, float)
    require(len(x) >= 2 and bool(np.isfinite(x).all()), "values", "need two numbers or more")
    freedom = len(x) - 1 + prior_weight
    squares = float(((x - x.mean()) ** 2).sum()) + prior_weight * prior_sd**2
    reach = float(scipy.stats.t.ppf((1 + mass) / 2, freedom)) * np.sqrt(squares / freedom / len(x))
    return Estimated(float(x.mean()), float(x.mean() - reach), float(x.mean() + reach))


def ratio_of(
    log_ratios: Sequence[float], *, prior_sd: float, prior_weight: float, mass: float = MASS
) -> Estimated:
    """The geometric mean of ratios, given as logarithms, with its interval (`mean_of`)."""
    logs = mean_of(log_ratios, prior_sd=prior_sd, prior_weight=prior_weight, mass=mass)
    return Estimated(float(np.exp(logs.value)), float(np.exp(logs.low)), float(np.exp(logs.high)))


# --- Levels to expect ----------------------------------------------------------------------------


def expected_over_care(ordinary: Floats, care: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Mean and standard deviation of the variable behind a level, averaged over care classes.

    ordinary: mean in ordinary care. care: share of the class's shift that shows. All (N,), levels.
    """
    prior, shift = np.array(CARE_PRIOR), np.array(CARE_SHIFT)
    mean = float(prior @ shift)
    variance = float(prior @ shift**2) - mean**2
    return ordinary + care * mean, np.sqrt(sd**2 + care**2 * variance)


def trouble_expected(mean: Floats, sd: Floats, broken: Floats | float) -> Floats:
    """(N,) prior chance of level 3 or 4. broken: share that broke (`levels.level_prior`)."""
    return np.asarray(level_prior(mean, sd, broken)[..., TROUBLE:].sum(axis=-1))


def level_shifts(
    level: Ints,
    mean: Floats,
    sd: Floats,
    kinds: Bools,
    *,
    strength: float = SURVEYS_STRENGTH,
) -> Floats:
    """How much worse boats of some kinds are than the catalogue says, (P,), in levels.

    level: (N,), as surveyed. mean, sd: (N,), before rounding, as the catalogue expects. kinds:
    (N, P), the kinds of each boat, the first commonly all; a boat's shift is the sum of those
    of its kinds. Each kind's shift has a normal prior about 0, worth `strength` observations:
    a shift common to two kinds goes to the wider one first, as in any multilevel model (Gelman et
    al., ch. 15). A level is a rounded normal variable; its value within the level is estimated
    anew each round (expectation-maximisation; Dempster, Laird & Rubin, 1977, JRSS B 39, 1-38).
    Broken parts count as worn: breakages beyond the catalogue's must raise the shift too, and the
    few that it expects raise it by hundredths. Without data the shift is 0; with ever more data
    it approaches the data's own. Raises ValueError.
    """
    design = kinds.astype(float)
    count, of_kinds = design.shape
    require(strength > 0, "strength", "must be positive")
    for name, value in (("level", level), ("mean", mean), ("sd", sd)):
        require(value.shape == (count,), name, f"needs shape ({count},)")
    require(bool(((level >= 0) & (level < LEVELS)).all()), "level", "is not from 0 to 4")
    held = design.T @ design + strength * np.eye(of_kinds)
    shifts = np.zeros(of_kinds)
    for _ in range(MAX_ROUNDS):
        filled = mean_before_rounding(mean + design @ shifts, sd)
        residual = np.take_along_axis(filled, level[:, None], axis=1)[:, 0] - mean
        improved = np.linalg.solve(held, design.T @ residual)
        settled = within(improved - shifts, 1e-7)
        shifts = improved
        if settled:
            break
    return np.asarray(shifts)


# --- What a remedy costs -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CostFactor:
    """The effect of bills on a remedy's three points.

    median: multiplies the expected price. spread: width of the points on the logarithmic scale,
    relative to the catalogue's. (1, 1) leaves them as they are.
    """

    median: float = 1.0
    spread: float = 1.0


def log_spread(prices: Prices) -> Floats:
    """(P,) standard deviation of the logarithm of a price, from its three points."""
    mean = np.maximum(prices.mean, 1e-9)
    return np.asarray(np.sqrt(np.log1p(prices.variance / mean**2)))


def cost_factor(
    log_ratios: Sequence[float], log_sd: float, *, strength: float = BILLS_STRENGTH
) -> CostFactor:
    """From bills divided by their estimates (logarithms) to a factor on the estimate.

    log_sd: spread of the price in the catalogue. The catalogue, a ratio of 1 with that spread,
    counts as `strength` bills (normal with a conjugate prior; Gelman et al., 3.3). Raises
    ValueError.
    """
    require(strength > 0, "strength", "must be positive")
    x = np.clip(np.asarray(log_ratios, float), -FURTHEST, FURTHEST)
    require(not bool(np.isnan(x).any()), "log_ratios", "are not all numbers")
    if len(x) == 0:
        return CostFactor()
    known = max(log_sd, 0.05)  # no catalogue price is exactly certain
    held = strength + len(x)
    mean = float(x.sum()) / held
    squares = float(((x - x.mean()) ** 2).sum()) + strength * len(x) / held * float(x.mean()) ** 2
    spread = np.sqrt((strength * known**2 + squares) / held)
    return CostFactor(float(np.exp(mean)), float(spread / known))


# How far one bill lies from its estimate, as standard deviation of the logarithm: own choice, no
# source. Beside it, YARD_RATE_SD is how far a yard as a whole lies from its estimates.
BILL_SD: Final = 0.30


def remaining_factor(log_ratios: Sequence[float]) -> float:
    """What bills on a boat say of the estimates that remain: the factor to multiply them by.

    log_ratios: logarithm of each bill over its estimate. The yard's own factor has a lognormal
    prior about 1 with YARD_RATE_SD, and each bill lies BILL_SD from it; the factor is the median
    of what the bills leave, so the estimates count as (BILL_SD / YARD_RATE_SD)^2 = 4 bills (normal
    with known variance and a conjugate prior; Gelman et al., 2.5). Without bills it is 1.
    """
    strength = (BILL_SD / YARD_RATE_SD) ** 2
    return cost_factor(log_ratios, BILL_SD, strength=strength).median


def with_factors(prices: Prices, median: Floats, spread: Floats) -> Prices:
    """The same prices with factors, both (P,); those at (1, 1), and quotes, stay as they are.

    The expected price moves by the median, whatever the spread: bills are compared with it.
    low <= likely <= high holds whatever the factors.
    """
    plain = prices.quoted | ((median == 1) & (spread == 1))

    def widened(points: Floats) -> Floats:
        ratio = np.divide(points, prices.likely, out=np.ones(len(prices)), where=prices.likely > 0)
        return np.asarray(prices.likely * ratio**spread)

    low, high = widened(prices.low), widened(prices.high)
    mean = (low + 4 * prices.likely + high) / 6
    kept = np.divide(prices.mean, mean, out=np.ones(len(prices)), where=mean > 0)
    scale = np.where(plain, 1.0, median * kept)
    return Prices(
        low=np.where(plain, prices.low, low * scale),
        likely=prices.likely * scale,
        high=np.where(plain, prices.high, high * scale),
        labour_share=prices.labour_share,
        quoted=prices.quoted,
        quote_sd=prices.quote_sd,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Triggers:
    """Which remedies the levels of checkpoints call for: T links, as in `work.Work`.

    weight: (T, 5), chance times extent.
    """

    checkpoint: Ints
    remedy: Ints
    weight: Floats

    def by_level(self, price: Floats) -> Floats:
        """(J, 5) expected cost of the remedies of each checkpoint, by its level. price: (K,)."""
        cost = np.zeros((int(self.checkpoint.max(initial=-1)) + 1, LEVELS))
        np.add.at(cost, self.checkpoint, self.weight * price[self.remedy, None])
        return cost


def monotone_medians(median: Floats, price: Floats, triggers: Triggers) -> Floats:
    """Medians (K,) moved towards 1 until no worse level costs less than a better one.

    A checkpoint may call for one remedy at one level and for another at the next: bills for the
    second alone could reverse their order. price: (K,), with which the order holds; a reversal in
    the catalogue of less than a part in a thousand is ignored.
    """
    log_median = np.log(median)
    before = triggers.by_level(price)
    slack = 1e-3 * before.max(axis=1, initial=0.0)
    fall = np.minimum(np.diff(before, axis=1), 0.0)
    for _ in range(MAX_ROUNDS):
        steps = np.diff(triggers.by_level(price * np.exp(log_median)), axis=1)
        broken = (steps < fall - slack[:, None]).any(axis=1)
        if not broken.any():
            break
        pulled = np.unique(triggers.remedy[broken[triggers.checkpoint]])
        log_median[pulled] *= 0.8
        log_median[np.abs(log_median) < 1e-3] = 0.0
    return np.asarray(np.exp(log_median))
