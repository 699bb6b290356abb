"""What looks are worth, from the stored next looks of many lists at once, whoever asks."""

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from apps.appraisal.models import ListAppraisal


@dataclass(frozen=True)
class LookWorth:
    """In the currency of the boat's list. A check that is not here is worth next to nothing."""

    currency: str
    visit: Decimal
    checks: Mapping[str, Decimal] = field(default_factory=dict)

    def of(self, checkpoints: Collection[str]) -> Decimal:
        """Of a look at these checkpoints: that of the best of them; at none, of a whole visit."""
        if not checkpoints:
            return self.visit
        return max(self.checks.get(code, Decimal(0)) for code in checkpoints)


def look_worths(candidates: Collection[uuid.UUID]) -> dict[uuid.UUID, LookWorth]:
    """By candidate, where it is known: worked out, priced, and somebody said what she is worth.

    The visit is the better of the two kept: as she lay last time, and with nothing in the way.
    One query.
    """
    stored = ListAppraisal.objects.filter(list__candidates__in=candidates).distinct()
    rows = stored.values_list("list__currency", "next_looks__visits", "next_looks__checks")
    found: dict[uuid.UUID, LookWorth] = {}
    for currency, visits, checks in rows.order_by("pk"):
        best: dict[uuid.UUID, Decimal] = defaultdict(Decimal)
        for visit in visits or ():
            boat = uuid.UUID(visit["candidate_id"])
            best[boat] = max(best[boat], Decimal(visit["worth"]["amount"]))
        single: dict[uuid.UUID, dict[str, Decimal]] = defaultdict(dict)
        for check in checks or ():
            boat = uuid.UUID(check["candidate_id"])
            single[boat][check["checkpoint"]] = Decimal(check["worth"]["amount"])
        found |= {boat: LookWorth(currency, best[boat], single[boat]) for boat in best}
    return {boat: worth for boat, worth in found.items() if boat in set(candidates)}
