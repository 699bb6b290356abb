"""Which boat to visit, by trying: told how everybody leans and spreads, with nothing left out.

For each boat: draw what she may truly be from the belief, draw what a visit would bring home if she
were that, work the belief out again by Bayes' theorem, draw her costs again, and see which boat
would then be chosen. The rule is as good as the model is, for one visit; it takes too long to be
the service's own.
"""

import numpy as np

from apps.appraisal.computing import Computed
from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.costs import simulate
from apps.reckoning.graders import WIDENING
from apps.reckoning.levels import LEVELS
from apps.reckoning.utility import expected_regretted_surplus, overrun_penalty
from tests.bench.seeing import report_chances
from tests.bench.worlds import Rater, one_of_each

TRIES, DRAWS = 48, 384


def best_visit(
    told: Computed, rater: Rater, possible: Bools, among: list[int], seed: int
) -> tuple[int, Floats]:
    """The boat a visit to whom is worth most, and what each is worth, (I,).

    told: worked out with everybody's lean and spread known. possible: (I, J). among: boats that may
    be worth it.
    """
    worth = np.zeros(len(told.inputs.boats))
    for i in among:
        worth[i] = _worth(told, i, rater, possible[i], np.random.default_rng([seed, i]))
    return int(worth.argmax()), worth


def _worth(
    told: Computed, i: int, rater: Rater, possible: Bools, rng: np.random.Generator
) -> float:
    utility = told.standing.group_utility
    other = max(0.0, float(np.delete(utility, i).max(initial=0.0)))
    care, level = told.belief.care[i], told.belief.level_given_care[i]
    # Errors of so few draws are the same for all tries: they go with the difference to no visit.
    error = _utility(told, i, care, level) - utility[i]
    after = np.array(
        [
            _utility(told, i, *_after_a_visit(care, level, rater, possible, rng))
            for _ in range(TRIES)
        ]
    )
    after -= error
    return float(np.maximum(after, other).mean() - max(after.mean(), other))


def _after_a_visit(
    care: Floats, level: Floats, rater: Rater, possible: Bools, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """The belief after one visit: care (3,), level given care (3, J, 5)."""
    among = np.flatnonzero(possible)
    true = one_of_each(level[rng.choice(3, p=care / care.sum()), among], rng)
    widening = rng.choice(list(WIDENING.values()), len(among))
    table = report_chances(
        np.arange(LEVELS)[:, None] + rater.lean, rater.whole_spread * widening
    )  # (5, A, 5) chance of each report of each true level
    said = one_of_each(table[true, np.arange(len(among))], rng)
    likelihood = table[:, np.arange(len(among)), said].T  # (A, 5)
    joint = level[:, among] * likelihood
    evidence = joint.sum(axis=2)  # (3, A)
    after = level.copy()
    after[:, among] = joint / np.maximum(evidence, 1e-300)[:, :, None]
    weight = np.log(np.maximum(care, 1e-300)) + np.log(np.maximum(evidence, 1e-300)).sum(axis=1)
    posterior = np.exp(weight - weight.max())
    return posterior / posterior.sum(), after


def _utility(told: Computed, i: int, care: Floats, level: Floats) -> float:
    cost, brief = told.costs[i], told.inputs.brief
    assert cost is not None  # every boat of a season can be priced
    draws = simulate(care, level, cost.costing.work, cost.costing.purchase, seed=i + 1, draws=DRAWS)
    return float(
        expected_regretted_surplus(
            told.standing.group_worth[i],
            draws.all_in,
            draws.upfront,
            brief.pot,
            overrun_penalty(brief.required_confidence),
        )
    )
