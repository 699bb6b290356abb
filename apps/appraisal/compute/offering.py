"""What to offer for one boat, and what the seller could be asked about, as it is stored.

What the budget allows depends on nobody's opinion. What she is worth does: it is computed once for
each choice between boats (`Deciding`), as explanations are.
"""

import math
from dataclasses import replace

import numpy as np

from apps.appraisal.compute.computing import BoatCost, Computed
from apps.appraisal.compute.costing import asking_of, purchase_of
from apps.appraisal.compute.deciding import Deciding
from apps.appraisal.figures import as_amount, chance
from apps.appraisal.stored.offering import (
    AmountRange,
    StoredAsk,
    StoredAsks,
    StoredLimits,
    StoredOffering,
    StoredPlan,
    StoredSensitivity,
)
from apps.appraisal.stored.parts import Amount
from apps.purchase.facts import LiveQuote
from apps.reckoning.arrays import Bools
from apps.reckoning.asking import Ask, asks_of
from apps.reckoning.costs import Draws
from apps.reckoning.offering import AtPrice, Limits, plan_of, sensitivity


class Offering:
    """One boat's prices to offer, made ready once for all choices that she takes part in."""

    def __init__(self, computed: Computed, i: int, draws: Draws, cost: BoatCost) -> None:
        self.computed, self.i, self.draws = computed, i, draws
        self.costing = cost.costing
        self.work, self.purchase = cost.costing.work, cost.costing.purchase
        self.at_price = AtPrice.of(draws, self.purchase, cost.expected)
        brief = computed.inputs.brief
        self.currency, self.budget = brief.currency, brief.budget
        self.confidence = brief.required_confidence
        # An offer changes what is expected to be paid, not what is asked.
        boat = computed.inputs.boats[i]
        known = asking_of(boat, brief) > 0
        self.asked, _ = purchase_of(replace(boat, offer=None) if known else boat, brief)
        self.within = self.at_price.within(self.budget, self.confidence)
        self.open_to_all = self._open_to_all()

    def seen_in(self, deciding: Deciding | None) -> StoredOffering:
        """With the limits that depend on opinions, if she takes part in the choice."""
        limits, rival = self._limits(deciding)
        walk_away = limits.walk_away
        return {
            **self.open_to_all,
            "limits": self._stored(limits, rival),
            "plan": None if walk_away is None else self._plan(walk_away),
        }

    def _limits(self, deciding: Deciding | None) -> tuple[Limits, int | None]:
        """With the index of the next best boat; None for buying none."""
        if deciding is None or self.i not in deciding.boats:
            return Limits(self.within, None, None, valued=False), None
        decision, n = deciding.decision, deciding.boats.index(self.i)
        valuation, other = decision.prospects[n].valuation, float(decision.other[n])
        others = np.where(np.arange(len(decision.expected)) == n, -np.inf, decision.expected)
        limits = Limits(
            self.within,
            self.at_price.at_par(valuation),
            self.at_price.worth_as_much_as(other, valuation, decision.budget, decision.penalty),
            valued=True,
        )
        return limits, deciding.boats[int(others.argmax())] if other > 0 else None

    def _stored(self, limits: Limits, rival: int | None) -> StoredLimits:
        return {
            "within_budget": self._down(limits.within_budget),
            "at_par": self._down(limits.at_par),
            "next_best": self._down(limits.next_best),
            "next_best_is": None if rival is None else str(self.computed.inputs.boats[rival].id),
            "valued": limits.valued,
        }

    def _plan(self, walk_away: float) -> StoredPlan:
        plan = plan_of(walk_away, self.asked)
        return {
            "opening": self._whole(plan.opening),
            "target": self._whole(plan.target),
            "walk_away": self._whole(plan.walk_away),
            "out_of_reach": plan.out_of_reach,
            "chance_at_target": chance(self.at_price.chance_within(plan.target, self.budget)),
        }

    def _open_to_all(self) -> "StoredOffering":
        price = self.purchase.expected_price
        return {
            "asking": as_amount(self.asked.asking, self.currency),
            "price": as_amount(price, self.currency),
            "offered": self.computed.inputs.boats[self.i].offer is not None,
            "confidence": self.confidence,
            "within": chance(self.at_price.chance_within(price, self.budget)),
            "sensitivity": self._sensitivity(),
            "asks": self._asks(price),
            "limits": self._stored(Limits(self.within, None, None, valued=False), None),
            "plan": None,
        }

    def _sensitivity(self) -> StoredSensitivity:
        found = sensitivity(self.at_price, self.draws, self.work, self.budget, self.confidence)
        return {
            "more_work": self._down(found.more_work),
            "dearer_yard": self._down(found.dearer_yard),
            "cheaper_yard": self._down(found.cheaper_yard),
            "by_confidence": [
                {"confidence": confidence, "price": self._down(price)}
                for confidence, price in found.by_confidence.items()
            ],
        }

    def _asks(self, price: float) -> StoredAsks:
        arrays, i = self.computed.arrays, self.i
        found = asks_of(
            self.at_price,
            price,
            self.draws,
            self.work,
            self.budget,
            seen=arrays.looked[i],
            guarded=arrays.guarded,
            stated=self.costing.stated,
        )
        judged = judged_by_professional(self.computed, i)
        return {
            "items": [self._ask(one, judged) for one in found.items],
            "within": chance(found.within),
            "amount": as_amount(found.amount, self.currency),
            "if_put_right": chance(found.if_put_right),
            "if_taken_off": chance(found.if_taken_off),
        }

    def _ask(self, one: Ask, judged: Bools) -> StoredAsk:
        remedy = self.computed.jobs.remedies[one.remedy]
        links = self.work.link_checkpoint[self.work.link_remedy == one.remedy]
        return {
            "remedy": remedy.code,
            "title": remedy.title,
            "amount": as_amount(one.amount, self.currency),
            "quoted": bool(self.work.remedies.quoted[one.remedy]),
            "needed": chance(one.needed),
            "safety": one.safety,
            "urgency": "now" if one.now else "later",
            "range": self._range(self.costing.quotes.get(remedy.code)),
            "professional": bool(self.costing.stated[one.remedy] or judged[links].any()),
            "if_put_right": chance(one.if_put_right),
            "if_taken_off": chance(one.if_taken_off),
        }

    def _range(self, quote: LiveQuote | None) -> AmountRange | None:
        """A surveyor's, if his estimate is the price that counts."""
        if quote is None or quote.low is None or quote.high is None:
            return None
        brief = self.computed.inputs.brief
        low, high = (
            brief.in_own_currency(end, quote.currency) or 0.0 for end in (quote.low, quote.high)
        )
        return {"low": as_amount(low, self.currency), "high": as_amount(high, self.currency)}

    def _down(self, price: float | None) -> Amount | None:
        """Rounded down: a limit that was rounded up would not hold."""
        return None if price is None else self._whole(price)

    def _whole(self, price: float) -> Amount:
        return as_amount(math.floor(price), self.currency)


def judged_by_professional(computed: Computed, i: int) -> Bools:
    """(J,): checkpoints of a boat on which a professional reported."""
    arrays = computed.arrays
    judged = np.zeros(arrays.looked.shape[1], dtype=np.bool_)
    for one in arrays.statements:
        if one.boat == i and one.finding is not None and one.finding.professional:
            judged[one.checkpoint] = True
    return judged
