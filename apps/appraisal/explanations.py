"""Why one candidate costs what she costs, and which facts would change where she stands."""

import uuid
from collections.abc import Callable

from apps.appraisal.computing import Computed
from apps.appraisal.deciding import Deciding, draws_of
from apps.appraisal.figures import Json, chance, money
from apps.reckoning.explaining import NONE, Change, Step, waterfall, what_would_change


def explanations_of(
    computed: Computed, deciding: Deciding | None, pulse: Callable[[], None]
) -> dict[uuid.UUID, Json]:
    """One for each candidate; those that take no part in the decision have no changes to tell."""
    place = {i: n for n, i in enumerate(deciding.boats)} if deciding else {}
    explanations = {}
    for i, boat in enumerate(computed.inputs.boats):
        pulse()
        changes = changes_of(computed, deciding, i, place[i]) if deciding and i in place else None
        explanations[boat.id] = {
            "waterfall": steps(computed, i),
            "changes": changes or [],
            "compared": changes is not None,
        }
    return explanations


def steps(computed: Computed, i: int) -> list[Json]:
    """From the asking price to the expected all-in cost; none for a boat that cannot be priced."""
    cost = computed.costs[i]
    if cost is None:
        return []
    return [step(computed, one) for one in waterfall(cost.rollup, cost.costing.purchase)]


def step(computed: Computed, one: Step) -> Json:
    currency, areas = computed.inputs.brief.currency, computed.jobs.areas
    area = None if one.area is None else areas[one.area]
    return {
        "of": one.of,
        "area": area,
        "title": area and computed.inputs.snapshot.catalogue.areas[area].title,
        "cause": one.cause,
        "amount": money(one.amount, currency),
        "total": money(one.total, currency),
    }


def changes_of(computed: Computed, deciding: Deciding, i: int, candidate: int) -> list[Json]:
    draws, cost = draws_of(computed, i)
    least = 1 - computed.inputs.brief.required_confidence
    changes = what_would_change(
        deciding.decision,
        candidate,
        draws,
        cost.costing.work,
        cost.costing.purchase,
        least_chance=least,
    )
    return [change(computed, deciding, one) for one in changes]


def change(computed: Computed, deciding: Deciding, one: Change) -> Json:
    currency, boats = computed.inputs.brief.currency, computed.inputs.boats
    other = None
    if one.other is not None and one.other != NONE:
        other = str(boats[deciding.boats[one.other]].id)
    base: Json = {
        "fact": one.fact,
        "effect": one.effect,
        "other": other,
        "against_none": one.other == NONE,
        "chance": None if one.chance is None else chance(one.chance),
    }
    if one.fact == "level":
        checkpoint = computed.arrays.checkpoints[one.subject]
        return {
            **base,
            "subject": checkpoint.code,
            "title": checkpoint.title,
            "now_level": int(one.now),
            "then_level": int(one.then),
        }
    remedy = computed.jobs.remedies[one.subject] if one.fact == "quote" else None
    return {
        **base,
        "subject": remedy.code if remedy else "asking_price",
        "title": remedy.title if remedy else "Asking price",
        "now_amount": money(one.now, currency),
        "then_amount": money(one.then, currency),
    }
