"""Where a candidate's cost comes from, step by step, from the asking price to the all-in cost."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from apps.reckoning.arrays import Floats
from apps.reckoning.rollup import CAUSES, Cause, CostRollup
from apps.reckoning.work import Purchase


@dataclass(frozen=True, slots=True)
class WaterfallStep:
    """One step from the asking price to the all-in cost, in money.

    of: what it adds; `later` is work that can wait. area, cause: for work, an area's index and one
    of CAUSES. total: the sum so far.
    """

    of: Literal["asking", "expected_price", "tax", "purchase_costs", "work", "reserve", "later"]
    amount: float
    area: int | None = None
    cause: Cause | None = None
    total: float = 0.0


def waterfall(rollup: CostRollup, purchase: Purchase) -> tuple[WaterfallStep, ...]:
    """From the asking price to the mean all-in cost. Steps of 0 are left out.

    First the cost before she sails: the purchase, the work that cannot wait by area and cause
    (seen, disputed, not seen), and the reserve. Then the work that can wait.
    """
    parts = rollup.parts
    added = [
        WaterfallStep("expected_price", parts.price - purchase.asking),
        WaterfallStep("tax", parts.tax),
        WaterfallStep("purchase_costs", parts.purchase_costs),
        *_work_steps("work", rollup.now_by_area_and_cause),
        WaterfallStep("reserve", parts.reserve),
        *_work_steps("later", rollup.later_by_area_and_cause),
    ]
    steps = [WaterfallStep("asking", purchase.asking, total=purchase.asking)]
    for step in added:
        if step.amount:
            steps.append(replace(step, total=steps[-1].total + step.amount))
    return tuple(steps)


def _work_steps(of: Literal["work", "later"], by_area_and_cause: Floats) -> Iterator[WaterfallStep]:
    for area, by_cause in enumerate(by_area_and_cause):
        for cause, amount in zip(CAUSES, by_cause.tolist(), strict=True):
            yield WaterfallStep(of, amount, area, cause)
