"""What further looks would tell of costs, whatever anybody thinks of the boats.

It rests on no opinion, so it is the same for every reader: also for those who may not see what
looks are worth for the choice, and where a plan is shared by people who may see different things.
"""

from collections.abc import Callable
from typing import Any, overload

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.deciding import Deciding, visitor_of
from apps.appraisal.figures import Json, money
from apps.appraisal.looks.next_looks import (
    Most,
    checks,
    each_once,
    members_may,
    not_seen,
    visits,
    years_unknown,
)
from apps.appraisal.stored.looks import Check, CheckOfCosts, Visit, VisitOfCosts

# Of each boat some, for whoever goes to see just her.
MOST_CHECKS = Most(5_000, 10)
MOST_QUESTIONS = Most(5_000, 4)


def cost_looks_of(
    computed: Computed, alone: Deciding | None, heartbeat: Callable[[], None]
) -> Json:
    """`alone` as `deciding_alone` has it, over all boats that can be priced.

    by_check: of every check, by boat and code, in the list's currency.
    """
    if alone is None:
        return {"checks": [], "visits": [], "questions": [], "by_check": {}}
    questions = [
        *years_unknown(computed, alone),
        *not_seen(computed, alone, MOST_QUESTIONS),
    ]
    questions.sort(key=lambda row: -float(row["value"]["amount"]))
    return {
        "checks": [moving(row) for row in checks(computed, alone, MOST_CHECKS)],
        "visits": [moving(row) for row in visits(computed, alone, heartbeat)],
        "questions": [moving(row) for row in each_once(questions)],
        "by_check": by_check(computed, alone),
    }


def by_check(computed: Computed, alone: Deciding) -> dict[str, dict[str, int]]:
    moves = 2 * alone.decision.checks(visitor_of(computed).report) * members_may(computed, alone)
    codes = [checkpoint.code for checkpoint in computed.arrays.checkpoints]
    return {
        str(computed.inputs.boats[i].id): {
            code: round(move) for code, move in zip(codes, row.tolist(), strict=True) if move >= 1
        }
        for i, row in zip(alone.boats, moves, strict=True)
    }


@overload
def moving(row: Check) -> CheckOfCosts: ...
@overload
def moving(row: Visit) -> VisitOfCosts: ...
@overload
def moving(row: Json) -> Json: ...
def moving(row: Any) -> Any:
    """With how far it is expected to move what she is thought to cost, one way or the other.

    That is twice what it is worth to whoever would buy her for just what she is thought to cost:
    of the moves, those that make her dearer spare them the loss; on average as much goes each way.
    """
    value = row["value"]
    kept = {name: value for name, value in row.items() if name not in ("value", "at_most")}
    return {**kept, "moves": money(2 * float(value["amount"]), value["currency"])}
