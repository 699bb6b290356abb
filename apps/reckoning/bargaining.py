"""A survey as a decision tree: after it the buyers buy, ask for money off, or walk away.

With findings g the boat is worth E[U | g] to them, and the alternative `other`. They ask for what
the findings add to her expected cost, r(g) = max(0, E[K | g] - E[K]): a seller is asked for what
was found, not for what was expected before. K is the all-in cost, counted up to `most_off` beyond
its mean: no seller bears more than that of any outcome. The seller agrees with the chance p, which
is the group's own estimate. So after the survey the buyers have

    p max(E[U | g] + r(g), other) + (1 - p) max(E[U | g], other).

Money off is counted at its amount; that it also lowers the risk to the budget is left out. Both
means are linear in what is believed and r is convex in it, so the whole is convex. Therefore the
survey is never worth less than nothing, more findings are never worth less, and no survey is worth
more than knowing every outcome (Jensen's inequality; Blackwell, 1953). With p = 0 it is the value
for the choice alone. Raiffa (1968), Decision Analysis, for the tree with an option to abandon.
"""

from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.work import require


@dataclass(frozen=True, slots=True)
class Bargain:
    """chance: that the seller takes off what a survey found. most_off: see above, in money."""

    chance: float = 0.0
    most_off: float = 0.0

    def __post_init__(self) -> None:
        require(0 <= self.chance <= 1, "chance", f"{self.chance} is not in 0..1")
        require(self.most_off >= 0, "most_off", "is negative or not a number")


NO_BARGAIN = Bargain()


@dataclass(frozen=True, slots=True)
class AfterSurvey:
    """gain: expected rise over deciding now. not_bought: chance that they walk away. money_off:
    expected sum that the seller takes off.
    """

    gain: float
    not_bought: float
    money_off: float


def after_survey(
    findings: Ints, utility: Floats, cost: Floats, other: float, bargain: Bargain
) -> AfterSurvey:
    """The tree, valued backwards.

    findings: (D,) number from 0 of the findings that each draw gives, all alike in a number.
    utility, cost: (D,) U and the all-in cost of the draws. other: value of the alternative.
    """
    count = np.bincount(findings).astype(float)
    share = count / len(findings)

    def given(values: Floats) -> Floats:
        total = np.bincount(findings, weights=values)
        mean: Floats = np.divide(total, count, out=np.zeros_like(total), where=count > 0)
        return mean

    worth = given(utility)
    asked = given(np.minimum(cost, cost.mean() + bargain.most_off))
    relief = np.maximum(asked - float(share @ asked), 0.0)
    agreed, refused = worth + relief, worth
    p = bargain.chance
    after = p * np.maximum(agreed, other) + (1 - p) * np.maximum(refused, other)
    walked_away = p * (agreed < other) + (1 - p) * (refused < other)
    return AfterSurvey(
        gain=max(0.0, float(share @ after) - max(float(utility.mean()), other)),
        not_bought=min(float(share @ walked_away), 1.0),  # not above it by rounding
        money_off=float(share @ (p * relief * (agreed >= other))),
    )


def after_knowing_all(utility: Floats, cost: Floats, other: float, bargain: Bargain) -> AfterSurvey:
    """The same if the survey showed every draw as it is: no survey is worth more."""
    return after_survey(np.arange(len(utility)), utility, cost, other, bargain)
