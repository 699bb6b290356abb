"""By how much looks would move expected costs, from the stored results of many lists.

People who ask may not see buyers' opinions, so none is used.
"""

import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from apps.appraisal.models import ListAppraisal
from apps.appraisal.stored import COST_LOOKS, value_read


@dataclass(frozen=True)
class LookValue:
    """By how much a look is expected to move the boat's expected cost, in her list's currency.

    A check that is missing here moves it by next to nothing.
    """

    currency: str
    visit: Decimal
    checks: Mapping[str, Decimal] = field(default_factory=dict)

    def of(self, checkpoints: Collection[str]) -> Decimal:
        """The value of the best of these checkpoints; with none given, of a whole visit."""
        if not checkpoints:
            return self.visit
        return max(self.checks.get(code, Decimal(0)) for code in checkpoints)


def look_values(candidates: Collection[uuid.UUID]) -> dict[uuid.UUID, LookValue]:
    """By candidate, where it is known: computed and priced.

    The visit is the better of the two stored ones: in the last conditions, or unhampered. One
    query.
    """
    wanted = {str(candidate) for candidate in candidates}
    stored = ListAppraisal.objects.filter(list__candidates__in=candidates).distinct()
    rows = stored.values_list("list__currency", "cost_looks").order_by("pk")
    found: dict[uuid.UUID, LookValue] = {}
    for currency, cost_looks in rows:
        looks = value_read(cost_looks, COST_LOOKS).value
        if looks is None:
            continue
        best: dict[str, Decimal] = {}
        for visit in looks["visits"]:
            if (boat := visit["candidate_id"]) in wanted and visit["kind"] != "sea_trial":
                best[boat] = max(best.get(boat, Decimal(0)), Decimal(visit["moves"]["amount"]))
        for boat, moves in best.items():
            by_check = looks["by_check"].get(boat, {})
            checks = {code: Decimal(move) for code, move in by_check.items()}
            found[uuid.UUID(boat)] = LookValue(currency, moves, checks)
    return found
