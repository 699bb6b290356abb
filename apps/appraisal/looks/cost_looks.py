"""By how much further looks would move expected costs, whatever people think of the boats.

It depends on no opinion, so it is the same for every reader. Readers who may not see the value of
looks for the choice use it, and so does a plan that people with different rights share.
"""

from collections.abc import Callable
from typing import Any, overload

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.deciding import Deciding, visitor_of
from apps.appraisal.figures import as_amount
from apps.appraisal.looks.most_valuable import Most
from apps.appraisal.looks.next_looks import checks, on_a_visit, visits
from apps.appraisal.looks.questions import each_once, not_seen, years_unknown
from apps.appraisal.stored.looks import (
    Check,
    CheckOfCosts,
    CostLooks,
    NotSeenOfCosts,
    NotSeenQuestion,
    StoredVisit,
    VisitOfCosts,
    YearOfCosts,
    YearQuestion,
)

# Some rows of each boat, for somebody who visits only that boat.
MOST_CHECKS = Most(5_000, 10)
MOST_QUESTIONS = Most(5_000, 4)


def cost_looks_of(
    computed: Computed, alone: Deciding | None, heartbeat: Callable[[], None]
) -> CostLooks:
    """`alone` as `deciding_alone` gives it, over all boats that can be priced.

    by_check: the move of every check, by boat and code, in the list's currency.
    """
    if alone is None:
        return {"checks": [], "visits": [], "questions": [], "by_check": {}}
    questions: list[YearQuestion | NotSeenQuestion] = [
        *years_unknown(computed, alone),
        *not_seen(computed, alone, MOST_QUESTIONS),
    ]
    questions.sort(key=lambda row: -float(row["value"]["amount"]) if row["value"] else 0.0)
    return {
        "checks": [moving(row) for row in checks(computed, alone, MOST_CHECKS)],
        "visits": [moving(row) for row in visits(computed, alone, heartbeat)],
        "questions": [moving(row) for row in each_once(questions)],
        "by_check": by_check(computed, alone),
    }


def by_check(computed: Computed, alone: Deciding) -> dict[str, dict[str, int]]:
    moves = 2 * alone.decision.checks(visitor_of(computed).report) * on_a_visit(computed, alone)
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
def moving(row: StoredVisit) -> VisitOfCosts: ...
@overload
def moving(row: YearQuestion | NotSeenQuestion) -> YearOfCosts | NotSeenOfCosts: ...
def moving(row: Any) -> Any:
    """The row with the expected size of the move of her expected cost, up or down.

    It is twice the value to somebody who would buy her for exactly her expected cost: a move up
    spares that buyer a loss, a move down gives nothing, and both have the same average size.
    """
    value = row["value"]
    kept = {name: value for name, value in row.items() if name not in ("value", "at_most")}
    return {**kept, "moves": as_amount(2 * float(value["amount"]), value["currency"])}
