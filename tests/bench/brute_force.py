"""Finds the best boat to visit by simulation, with known leans and spreads.

For each boat: draw her true state from the belief, draw the reports of a visit to it, update the
belief by Bayes' theorem, draw her costs again, and see which boat would then be chosen. For one
visit the rule is as good as the model, but too slow for the service.
"""

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.belief import Belief
from apps.reckoning.grader_priors import WIDENING
from apps.reckoning.levels import LEVELS
from apps.reckoning.utility import overrun_penalty
from tests.bench.quick import Quick
from tests.bench.seeing import report_chances
from tests.bench.worlds import Rater, one_of_each

TRIES = 64


def quick_of(computed: Computed) -> list[Quick]:
    """The fast costs of every boat."""
    brief = computed.inputs.brief
    return [
        Quick(
            cost.costing.work,
            cost.costing.purchase,
            valuation=float(valuation),
            budget=brief.budget,
            penalty=overrun_penalty(brief.required_confidence),
            seed=boat.id.int % 2**63,
        )
        for boat, cost, valuation in zip(
            computed.inputs.boats, computed.costs, computed.standing.group_valuation, strict=True
        )
        if cost is not None  # every boat of a season can be priced
    ]


def worth_by_trying(
    told: Belief,
    utility: Floats,
    i: int,
    rater: Rater,
    possible: Bools,
    hampered: Bools,
    quick: Quick,
    rng: np.random.Generator,
) -> tuple[float, float]:
    """The value of a visit to boat i, in money, by each half of the tries.

    Who chooses by one half and counts the other is not flattered by chance. told: worked out with
    everybody's lean and spread known; utility: (I,) E[U] by it. possible: (J,) what can be looked
    at, hampered: (J,) of what it is a guess.
    """
    other = max(0.0, float(np.delete(utility, i).max(initial=0.0)))
    state, level = told.of_boat(i)
    state, level = state.ravel(), level.reshape(-1, *level.shape[-2:])  # (C,), (C, J, 5)
    tries = (_after_a_visit(state, level, rater, possible, hampered, rng) for _ in range(TRIES))
    # The error of so few draws is the same for all tries and cancels in the difference.
    after = np.array([quick(*one) for one in tries]) - quick(state, level) + utility[i]
    first, second = (
        float(np.maximum(half, other).mean() - max(half.mean(), other))
        for half in (after[::2], after[1::2])
    )
    return first, second


def _after_a_visit(
    state: Floats,
    level: Floats,
    rater: Rater,
    possible: Bools,
    hampered: Bools,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """The belief after one visit: P(state) (C,), of care class and graders, and levels (C, J, 5).

    The raters' remaining uncertainty is part of the state, so nothing is averaged.
    """
    among = np.flatnonzero(possible)
    true = one_of_each(level[rng.choice(len(state), p=state / state.sum()), among], rng)
    widening = rng.choice(list(WIDENING.values()), len(among))
    widening[hampered[among]] = WIDENING["guess"]
    table = report_chances(
        np.arange(LEVELS)[:, None] + rater.lean, rater.whole_spread * widening, rater.slip
    )  # (5, A, 5) chance of each report of each true level
    said = one_of_each(table[true, np.arange(len(among))], rng)
    likelihood = table[:, np.arange(len(among)), said].T  # (A, 5)
    joint = level[:, among] * likelihood
    evidence = joint.sum(axis=2)  # (C, A)
    after = level.copy()
    after[:, among] = joint / np.maximum(evidence, 1e-300)[:, :, None]
    weight = np.log(np.maximum(state, 1e-300)) + np.log(np.maximum(evidence, 1e-300)).sum(axis=1)
    posterior = np.exp(weight - weight.max())
    return posterior / posterior.sum(), after
