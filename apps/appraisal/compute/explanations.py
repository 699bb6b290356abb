"""Where one candidate's cost comes from, and which facts would change her place."""

import math
import uuid
from collections.abc import Callable, Sequence

import numpy as np

from apps.appraisal.compute.computing import BoatCost, Computed
from apps.appraisal.compute.deciding import Deciding, draws_of
from apps.appraisal.compute.offering import Offering
from apps.appraisal.figures import as_amount, as_level, chance
from apps.appraisal.stored.candidates import (
    ExplainedChanges,
    Explanation,
    LevelChange,
    MoneyChange,
    OtherStep,
    StoredChange,
    WorkStep,
)
from apps.reckoning.costs import Draws
from apps.reckoning.explaining import FALLS_BEHIND, NONE, WhatWouldChange, what_would_change
from apps.reckoning.waterfall import WaterfallStep, waterfall

Explanations = dict[uuid.UUID, Explanation]
Change = LevelChange | MoneyChange

ON_NO_OPINION = ("waterfall",)


def explanations_of(
    computed: Computed,
    decidings: Sequence[Deciding | None],
    alone: Deciding | None,
    heartbeat: Callable[[], None],
) -> list[Explanations]:
    """For each deciding, one explanation for each candidate.

    For a candidate that takes no part, only the facts that change the chance of staying within
    the budget are given. alone: over all boats that can be priced.
    """
    found: list[Explanations] = [{} for _ in decidings]
    for i, boat in enumerate(computed.inputs.boats):
        heartbeat()
        waterfall = steps(computed, i)
        for explanations, explained in zip(
            found, explained_by_deciding(computed, decidings, alone, i), strict=True
        ):
            explanations[boat.id] = {"waterfall": waterfall, **explained}
    return found


def explained_by_deciding(
    computed: Computed, decidings: Sequence[Deciding | None], alone: Deciding | None, i: int
) -> list[ExplainedChanges]:
    """For each deciding, the facts that would change the boat, whether she takes part in it, and
    what to offer for her.
    """
    if alone is None or i not in alone.boats:
        return [{"changes": [], "compared": False, "offering": None} for _ in decidings]
    draws, cost = draws_of(computed, i)
    offering = Offering(computed, i, draws, cost)
    compared = [deciding is not None and i in deciding.boats for deciding in decidings]
    on_the_budget = (
        [] if all(compared) else changes_of(computed, alone, i, draws, cost, of_place=False)
    )
    found: list[ExplainedChanges] = []
    for deciding in decidings:
        among, takes_part = on_the_budget, False
        if deciding and i in deciding.boats:
            among, takes_part = changes_of(computed, deciding, i, draws, cost), True
        offered = offering.seen_in(deciding)
        found.append({"changes": among, "compared": takes_part, "offering": offered})
    return found


def steps(computed: Computed, i: int) -> list[WorkStep | OtherStep]:
    """From the asking price, or the offer on the table, to the expected all-in cost.

    None for a boat that cannot be priced.
    """
    cost = computed.costs[i]
    if cost is None:
        return []
    offered = computed.inputs.boats[i].offer is not None
    return [step(computed, one, offered) for one in waterfall(cost.rollup, cost.costing.purchase)]


def step(computed: Computed, one: WaterfallStep, offered: bool) -> WorkStep | OtherStep:
    currency, areas = computed.inputs.brief.currency, computed.jobs.areas
    amount, total = as_amount(one.amount, currency), as_amount(one.total, currency)
    if one.of == "work" or one.of == "later":
        assert one.area is not None  # work is in an area
        assert one.cause is not None
        area = areas[one.area]
        return {
            "of": one.of,
            "area": area,
            "title": computed.inputs.snapshot.catalogue.areas[area].title,
            "cause": one.cause,
            "amount": amount,
            "total": total,
        }
    return {
        "of": "offer" if offered and one.of == "asking" else one.of,
        "area": None,
        "title": None,
        "cause": None,
        "amount": amount,
        "total": total,
    }


def changes_of(
    computed: Computed,
    deciding: Deciding,
    i: int,
    draws: Draws,
    cost: BoatCost,
    *,
    of_place: bool = True,
) -> list[Change]:
    least = 1 - computed.inputs.brief.required_confidence
    changes = what_would_change(
        deciding.decision,
        deciding.boats.index(i),
        draws,
        cost.costing.work,
        cost.costing.purchase,
        cost.expected,
        least_chance=least,
        of_place=of_place,
        with_price=np.array([remedy.by_price for remedy in computed.jobs.remedies]),
    )
    offered = computed.inputs.boats[i].offer is not None
    return [change(computed, deciding, one, offered) for one in changes]


def change(computed: Computed, deciding: Deciding, one: WhatWouldChange, offered: bool) -> Change:
    currency, boats = computed.inputs.brief.currency, computed.inputs.boats
    other = None
    if one.other is not None and one.other != NONE:
        other = str(boats[deciding.boats[one.other]].id)
    subject, title = named(computed, one, offered)
    base: StoredChange = {
        "subject": subject,
        "title": title,
        "effect": one.effect,
        "other": other,
        "against_none": one.other == NONE,
        "chance": None if one.chance is None else chance(one.chance),
    }
    if one.fact == "level":
        return {
            **base,
            "fact": one.fact,
            "now_level": as_level(int(one.now)),
            "then_level": as_level(int(one.then)),
        }
    return {
        **base,
        "fact": one.fact,
        "now_amount": as_amount(one.now, currency),
        "then_amount": as_amount(just_past(one), currency),
    }


def named(computed: Computed, one: WhatWouldChange, offered: bool) -> tuple[str, str]:
    """The code and the title of what would be different."""
    if one.fact == "asking":
        return ("offer", "Offer") if offered else ("asking_price", "Asking price")
    of = computed.arrays.checkpoints if one.fact == "level" else computed.jobs.remedies
    return of[one.subject].code, of[one.subject].title


def just_past(one: WhatWouldChange) -> int:
    """The first whole price that has the effect."""
    if one.effect in (FALLS_BEHIND, "over_budget"):
        return math.floor(one.then) + 1
    return math.ceil(one.then) - 1
