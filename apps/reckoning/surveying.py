"""Whether a survey of one candidate now would help the choice between them (model section 5).

The boat that is bought is surveyed first in any case: insurers usually ask for it, and the fee is
part of her all-in cost. So a survey of a candidate now costs nothing more if she is bought after
it. Its cost is the fee times the chance that she is not bought. This leaves out that a fee already
spent favours her, if she and the next best differ by less than the fee.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.looking import Decision
from apps.reckoning.visits import Groups
from apps.reckoning.work import require


@dataclass(frozen=True, slots=True)
class SurveyValue:
    """The value of a survey for the choice, and its cost now.

    worth: EVSI, in money. fee: of the surveyor. not_bought: chance that after it another candidate
    or none is better. comes_first: whether the candidate is the best before it.
    """

    value: float
    fee: float
    not_bought: float
    comes_first: bool

    @property
    def cost(self) -> float:
        return self.fee * self.not_bought

    @property
    def changes_first(self) -> float:
        """Chance that the survey changes which candidate comes first."""
        return self.not_bought if self.comes_first else 1 - self.not_bought

    @property
    def pays_now(self) -> bool:
        """A survey that never changes which candidate comes first is worth nothing."""
        return self.changes_first > 0 and self.value >= self.cost


@dataclass(frozen=True, slots=True)
class SurveyAdvice:
    """Whether a survey now pays for itself by a better choice between the candidates.

    cut_needed: how much cheaper the candidate would have to be for the survey to pay, in money; 0
    if it pays, None if no lower price makes it pay.
    """

    weighed: SurveyValue
    cut_needed: float | None


def survey_advice(
    decision: Decision, candidate: int, report: Floats | None, *, fee: float, seed: int
) -> SurveyAdvice:
    """Weigh a survey of every checkpoint that applies.

    report: table of the surveyor. The value is highest if the candidate and the next best are
    level: if they are far apart, no finding changes the choice. Raises ValueError for a negative
    fee.
    """
    require(fee >= 0, "fee", "is negative or not a number")
    every = np.ones(decision.perfect.shape[1], dtype=bool)
    findings = decision.findings(candidate, every, report, seed=seed)
    best_check = float(decision.checks(report)[candidate].max(initial=0.0))
    other = float(decision.other[candidate])
    weighed = _weighed(findings, decision.utility[candidate], other, fee, best_check)
    needed = 0.0 if weighed.pays_now else _cut_needed(decision, candidate, findings, fee)
    return SurveyAdvice(weighed, needed)


def _weighed(
    findings: Groups, utility: Floats, other: float, fee: float, at_least: float = 0.0
) -> SurveyValue:
    """at_least: a lower bound of the survey's value, whatever its groups of draws give."""
    return SurveyValue(
        value=max(findings.gain(utility, other), at_least),
        fee=fee,
        not_bought=findings.behind(utility, other),
        comes_first=float(utility.mean()) >= other,
    )


def _cut_needed(decision: Decision, candidate: int, findings: Groups, fee: float) -> float | None:
    """Smallest price cut of a candidate behind that makes the survey pay; None if none does.

    The survey's value rises until the candidate and the next best are level. E[U] rises by 1 or
    more for each unit cheaper, so that cut is no larger than the gap.
    """
    each, other = decision.prospects[candidate], float(decision.other[candidate])
    gap = other - float(decision.expected[candidate])
    if gap <= 0:
        return None

    def utility(part: float) -> Floats:
        cheaper = each.cost.dearer(-part * gap)
        return cheaper.utility(each.valuation, decision.budget, decision.penalty)

    def caught_up(part: float) -> bool:
        return float(utility(part).mean()) >= other

    def pays(part: float) -> bool:
        return _weighed(findings, utility(part), other, fee).pays_now

    level = _first(caught_up, 1.0)
    return gap * _first(pays, level) if pays(level) else None


def _first(holds: Callable[[float], bool], top: float) -> float:
    """Least part in 0..top from which a condition holds, to a thousandth; it holds at the top."""
    low = 0.0
    for _ in range(10):
        middle = (low + top) / 2
        low, top = (low, middle) if holds(middle) else (middle, top)
    return top
