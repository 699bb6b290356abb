"""Whether a survey of one candidate now pays: for the choice, and for what follows it (section 5).

After a survey the buyers may also ask for money off or walk away (`bargaining`): that is part of
what it is worth.

The boat that is bought is surveyed first in any case: insurers usually ask for it, and the fee is
part of her all-in cost. So a survey of a candidate now costs nothing more if she is bought after
it. Its cost is the fee times the chance that she is not bought. This leaves out that a fee already
spent favours her, if she and the next best differ by less than the fee.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.bargaining import NO_BARGAIN, Bargain, after_knowing_all, after_survey
from apps.reckoning.looking import Decision
from apps.reckoning.visits import Groups
from apps.reckoning.work import require


@dataclass(frozen=True, slots=True)
class SurveyValue:
    """The value of a survey, and its cost now.

    value: EVSI with the bargaining that follows it, in money. for_choice: the part of the choice
    alone. fee: of the surveyor. not_bought: chance that after it another candidate or none is
    better, whatever the seller says. behind: the same before anything is asked of the seller.
    money_off: expected sum that the seller takes off. comes_first: whether the candidate is the
    best before it.
    """

    value: float
    for_choice: float
    fee: float
    not_bought: float
    behind: float
    money_off: float
    comes_first: bool

    @property
    def cost(self) -> float:
        return self.fee * self.not_bought

    @property
    def changes_first(self) -> float:
        """Chance that the survey alone changes which candidate comes first."""
        return self.behind if self.comes_first else 1 - self.behind

    @property
    def pays_now(self) -> bool:
        """One that changes neither which candidate comes first nor her price is worth nothing."""
        does_something = self.changes_first > 0 or self.money_off > 0
        return does_something and self.value >= self.cost


@dataclass(frozen=True, slots=True)
class SurveyAdvice:
    """Whether a survey now pays for itself by a better choice between the candidates.

    cut_needed: how much cheaper the candidate would have to be for the survey to pay, in money; 0
    if it pays, None if no lower price makes it pay.
    """

    weighed: SurveyValue
    cut_needed: float | None


def survey_advice(
    decision: Decision,
    candidate: int,
    report: Floats | None,
    *,
    fee: float,
    seed: int,
    bargain: Bargain = NO_BARGAIN,
) -> SurveyAdvice:
    """Weigh a survey of every checkpoint that applies.

    report: table of the surveyor. bargain: what follows it; by default nothing. The value for the
    choice is highest if the candidate and the next best are level: if they are far apart, no
    finding changes the choice. Raises ValueError for a negative fee.
    """
    require(fee >= 0, "fee", "is negative or not a number")
    every = np.ones(decision.perfect.shape[1], dtype=bool)
    findings = decision.findings(candidate, every, report, seed=seed)
    best_check = float(decision.checks(report)[candidate].max(initial=0.0))
    survey = _Survey(
        findings,
        decision.prospects[candidate].cost.all_in,
        float(decision.other[candidate]),
        fee,
        bargain,
    )
    weighed = survey.weighed(decision.utility[candidate], best_check)
    needed = 0.0 if weighed.pays_now else _cut_needed(decision, candidate, survey)
    return SurveyAdvice(weighed, needed)


def most_worth(decision: Decision, candidate: int, bargain: Bargain) -> float:
    """No survey of the candidate is worth more: it would show all, and she were bargained for."""
    cost, other = decision.prospects[candidate].cost.all_in, float(decision.other[candidate])
    return after_knowing_all(decision.utility[candidate], cost, other, bargain).gain


@dataclass(frozen=True, slots=True, eq=False)
class _Survey:
    """findings: groups of draws that it tells apart. cost: (D,) all-in. other: the alternative."""

    findings: Groups
    cost: Floats
    other: float
    fee: float
    bargain: Bargain

    def weighed(self, utility: Floats, at_least: float = 0.0) -> SurveyValue:
        """At a price that gives this utility, (D,).

        at_least: a lower bound of the survey's value, whatever its groups of draws give.
        """
        found, other = self.findings.findings(utility), self.other
        after = after_survey(found, utility, self.cost, other, self.bargain)
        for_choice = max(self.findings.gain(utility, other), at_least)
        return SurveyValue(
            value=max(after.gain, for_choice),
            for_choice=for_choice,
            fee=self.fee,
            not_bought=after.not_bought,
            behind=self.findings.behind(utility, other),
            money_off=after.money_off,
            comes_first=float(utility.mean()) >= other,
        )


def _cut_needed(decision: Decision, candidate: int, survey: _Survey) -> float | None:
    """Smallest price cut of a candidate behind that makes the survey pay; None if none does.

    The survey's value rises until the candidate and the next best are level. E[U] rises by 1 or
    more for each unit cheaper, so that cut is no larger than the gap.
    """
    each, other = decision.prospects[candidate], survey.other
    gap = other - float(decision.expected[candidate])
    if gap <= 0:
        return None

    def utility(part: float) -> Floats:
        cheaper = each.cost.dearer(-part * gap)
        return cheaper.utility(each.valuation, decision.budget, decision.penalty)

    def caught_up(part: float) -> bool:
        return float(utility(part).mean()) >= other

    def pays(part: float) -> bool:
        return survey.weighed(utility(part)).pays_now

    level = _first(caught_up, 1.0)
    return gap * _first(pays, level) if pays(level) else None


def _first(holds: Callable[[float], bool], top: float) -> float:
    """Least part in 0..top from which a condition holds, to a thousandth; it holds at the top."""
    low = 0.0
    for _ in range(10):
        middle = (low + top) / 2
        low, top = (low, middle) if holds(middle) else (middle, top)
    return top
