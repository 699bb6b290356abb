"""The belief of one list, mixed over the uncertainty of its graders.

An unknown lean moves all levels of all boats together, so an interval that takes only the most
likely graders is too narrow. Here leans and spreads are drawn from their joint posterior
(`marginal`), the belief is computed exactly given each draw, and the result is the average over
the draws with the variance between them.
The draws come from a normal distribution at the posterior's mode (Laplace's approximation: Tierney
& Kadane, 1986, JASA 81, 82-86). They spread wider than it, since the posterior has the heavier
tails, and are weighted by the ratio of the posterior to their own density (importance sampling:
Geweke, 1989, Econometrica 57, 1317-1339).
"""

from dataclasses import replace
from typing import Final

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.belief import Belief, Mixture, fit
from apps.reckoning.grader_priors import GraderPriors
from apps.reckoning.graders import GraderDraws
from apps.reckoning.marginal import Marginal
from apps.reckoning.priors import CARE_PRIOR, CheckpointPriors, Fleet, Reports, care_beforehand

DRAWS: Final = 32  # of the graders; in pairs, on both sides of the mode
# How much wider the draws spread than the curvature at the mode. At 1, leans were 10% too certain
# where two people looked at nearly all of four boats; at this value, 4%. Own choice, from
# comparison with 512 draws.
WIDER: Final = 1.2
# Least effective share of the draws: weights below it are evened out. Own choice.
FEWEST_COUNTED: Final = 0.5
_SEED: Final = 20


def fit_mixed(
    fleet: Fleet,
    priors: CheckpointPriors,
    reports: Reports,
    grader_priors: GraderPriors,
    *,
    care_prior: tuple[float, ...] | Floats = CARE_PRIOR,
    draws: int = DRAWS,
) -> Belief:
    """Fit one list as `belief.fit` does, and mix over draws of its graders. Deterministic.

    Without a report there is nothing to mix. Raises ValueError as `fit` does.
    """
    belief = fit(fleet, priors, reports, grader_priors, care_prior=care_prior)
    if not len(reports):
        return belief
    marginal = Marginal(fleet, priors, reports, grader_priors, care_beforehand(fleet, care_prior))
    start = np.stack([belief.graders.lean_mean, belief.graders.log_spread_mean])
    mode, axes = marginal.mode(grader_priors.free(start).ravel())
    normal = _normal_draws(draws, len(mode))
    free = mode + WIDER * normal @ axes.T
    share = _shares(marginal.log_density(free) + 0.5 * np.sum(normal**2, axis=1))
    mixture = _mixture(marginal, free, share)
    care, level_given_care = mixture.averaged()
    return replace(
        belief,
        care=care,
        level_given_care=level_given_care,
        level=np.einsum("ic,icjt->ijt", care, level_given_care),
        graders=GraderDraws.of(grader_priors, share, free.reshape(draws, *start.shape)),
        mixture=mixture,
    )


def _normal_draws(draws: int, directions: int) -> Floats:
    """(K, P) standard normal draws, in pairs of opposite sign.

    With enough draws, their mean and covariance are exactly those of the normal distribution;
    otherwise those of the leading directions are.
    """
    half = np.random.default_rng(_SEED).standard_normal((draws // 2, directions))
    exact = directions if directions <= draws // 2 else draws // 4
    basis, _ = np.linalg.qr(half[:, :exact])
    half[:, :exact] = basis * np.sqrt(draws // 2)
    return np.concatenate([half, -half])


def _shares(log_weight: Floats) -> Floats:
    """(K,) weights that sum to 1, evened out by a power where only a few draws would count."""
    around = log_weight - log_weight.max()

    def shares(power: float) -> Floats:
        weight = np.exp(power * around)
        return np.asarray(weight / weight.sum())

    def enough(power: float) -> bool:
        return 1.0 / float(np.sum(shares(power) ** 2)) >= FEWEST_COUNTED * len(around)

    low, high = (1.0, 1.0) if enough(1.0) else (0.0, 1.0)
    for _ in range(20):
        middle = (low + high) / 2
        low, high = (middle, high) if enough(middle) else (low, middle)
    return shares(low)


def _mixture(marginal: Marginal, free: Floats, share: Floats) -> Mixture:
    """The belief given each draw. Where nobody looked, the prior given the care class."""
    care = np.repeat(marginal.care_prior[:, None], len(free), axis=1)
    level = np.repeat(marginal.prior[:, None], len(free), axis=1)  # (I, K, 3, J, 5)
    for of, part in marginal.weigh(free):
        care[marginal.boats, of] = part.care.transpose(2, 1, 0)
        level[marginal.boat, of, :, marginal.checkpoint] = part.level_given_care.transpose(
            3, 2, 0, 1
        )
    return Mixture(share, care * share[:, None], level)
