"""How people choose a boat without the service: on paper, by the worst report, by price.

On paper, each checkpoint counts at the mean of its reported levels, rounded to the nearest. The
usual jobs at these levels are added up at their likely prices, with shared enabling work once;
unseen checkpoints count as fine; and a share is added for extras. The choice is the boat with the
largest worth over this sum, among those within the budget.
"""

from collections import defaultdict
from collections.abc import Callable, Sequence

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.reckoning.arrays import Floats

USUAL = 0.5  # from this chance on a job is the usual one at a level
Said = Callable[[Sequence[int]], float]


def on_paper(computed: Computed, *, added: float = 0.0, said: Said = np.mean) -> int | None:
    """The chosen boat, or None. said: combines several people's levels."""
    cost = np.array(
        [
            _bought(computed, i) + (1 + added) * jobs_on_paper(computed, i, said)
            for i in range(len(computed.inputs.boats))
        ]
    )
    return _best(computed.standing.group_valuation - cost, cost, computed.inputs.brief.budget)


def by_the_worst(computed: Computed) -> int | None:
    """The same by the worst reported level."""
    return on_paper(computed, said=max)


def by_the_price(computed: Computed) -> int | None:
    """The choice by worth over asking price, whatever her state."""
    cost = np.array([_bought(computed, i) for i in range(len(computed.inputs.boats))])
    return _best(computed.standing.group_valuation - cost, cost, computed.inputs.brief.budget)


def _best(surplus: Floats, cost: Floats, budget: float) -> int | None:
    surplus = np.where(cost <= budget, surplus, -np.inf)
    best = int(surplus.argmax())
    return best if surplus[best] > 0 else None


def _bought(computed: Computed, i: int) -> float:
    purchase = _costing(computed, i).purchase
    return purchase.expected_price * (1 + purchase.tax_rate) + purchase.fixed


def jobs_on_paper(computed: Computed, i: int, said: Said) -> float:
    """The usual jobs of the seen checkpoints, at their likely prices."""
    work = _costing(computed, i).work
    level = np.full(len(computed.arrays.checkpoints), -1)
    for j, reports in _reports(computed, i).items():
        level[j] = int(np.floor(said(reports) + 0.5))
    at = level[work.link_checkpoint]
    link = np.arange(len(at))
    usual = (at >= 0) & (work.chance[link, at] >= USUAL)
    extent = np.zeros(len(work.remedies))
    np.maximum.at(extent, work.link_remedy[usual], work.extent[link, at][usual])
    needed = work.needs[extent > 0].any(axis=0)
    return float(extent @ work.remedies.likely + needed @ work.enabling.likely)


def _reports(computed: Computed, i: int) -> dict[int, list[int]]:
    by_checkpoint: defaultdict[int, list[int]] = defaultdict(list)
    for one in computed.arrays.statements:
        if one.boat == i:
            by_checkpoint[one.checkpoint].append(one.level)
    return by_checkpoint


def _costing(computed: Computed, i: int):
    cost = computed.costs[i]
    assert cost is not None  # every boat of a season can be priced
    return cost.costing
