"""Why a candidate is in its place, in full, as it is stored."""

from collections.abc import Sequence

import numpy as np

from apps.appraisal.board import strike_off
from apps.appraisal.board.board import before_buying, place_of
from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.consensus import judged_by, open_doubts
from apps.appraisal.compute.standing import as_must
from apps.appraisal.figures import as_amount_or_none, as_level, chance, number
from apps.appraisal.stored.candidates import Consensus
from apps.appraisal.stored.parts import Amount
from apps.appraisal.stored.standing import Doubt, Neighbour, Reasons, Stands, WalkAway, WantMet
from apps.reckoning.arrays import Floats


def reasons_of(computed: Computed, consensus: Sequence[Consensus]) -> list[Reasons]:
    """The reasons of each boat, in order; `consensus` as stored, in the same order."""
    return [
        {
            **stands,
            "before_buying": before_buying(computed, i),
            "doubts": doubts(consensus[i]),
            "walk_away": walk_away(computed, i),
            "wants": wants(computed, i),
            "wants_met": [
                {"person_id": str(buyer.person_id), "share": number(met, 3)}
                for buyer, met in zip(
                    computed.inputs.buyers, computed.standing.wants_met[:, i], strict=True
                )
            ],
            "missing": list(computed.missing[i]),
        }
        for i, stands in enumerate(stands_of(computed))
    ]


# The fields below do not depend on opinions, so nothing in them can be hidden.
ON_NO_OPINION = ("before_buying", "doubts", "walk_away", "wants", "wants_met", "missing")


def stands_of(computed: Computed) -> list[Stands]:
    """Each boat's place with advice: the part of the reasons that may depend on hidden opinions."""
    return [
        {
            "place": place_of(computed, i),
            "of": len(computed.standing.order),
            "advice": [strike_off.stored(computed, one) for one in computed.standing.advice[i]],
            "compared": compared(computed, i),
        }
        for i in range(len(computed.inputs.boats))
    ]


def compared(computed: Computed, i: int) -> list[Neighbour]:
    """The neighbours in the order, and how far apart they are in money, where it is known.

    against: given if the expected surplus alone would reverse the two, and by how much.
    """
    standing, boats = computed.standing, computed.inputs.boats
    currency = computed.inputs.brief.currency
    surplus = standing.group_valuation - computed.cost_table.mean
    if i not in standing.order:
        return []
    at = standing.order.index(i)
    neighbours = [standing.order[n] for n in (at - 1, at + 1) if 0 <= n < len(standing.order)]
    return [
        {
            "candidate_id": str(boats[other].id),
            "ahead": bool(standing.place[other] < standing.place[i]),
            "level": bool(standing.place[other] == standing.place[i]),
            "apart": as_amount_or_none(
                abs(standing.group_utility[i] - standing.group_utility[other]), currency
            ),
            "against": against(
                surplus,
                first=min(i, other, key=standing.order.index),
                second=max(i, other, key=standing.order.index),
                currency=currency,
            ),
        }
        for other in neighbours
    ]


def against(surplus: Floats, *, first: int, second: int, currency: str) -> Amount | None:
    by = surplus[second] - surplus[first]
    return as_amount_or_none(by, currency) if by > 0 else None


def doubts(consensus: Consensus) -> list[Doubt]:
    return [
        {
            "checkpoint": one["checkpoint"],
            "title": one["title"],
            "concerns": one["concerns"],
            "mean": one["mean"],
            **doubt,
        }
        for one, doubt in open_doubts(consensus)
    ]


def walk_away(computed: Computed, i: int) -> list[WalkAway]:
    """Checkpoints with a level to walk away from, and how likely that level is here."""
    level, threshold = computed.belief.level[i], computed.arrays.walk_away_level
    reached = (level * (np.arange(level.shape[1]) >= threshold[:, None])).sum(axis=1)
    at = np.flatnonzero((threshold >= 0) & computed.arrays.fleet.applies[i] & (reached >= 0.10))
    checkpoints = computed.arrays.checkpoints
    return [
        {
            "checkpoint": checkpoints[j].code,
            "title": checkpoints[j].title,
            "level": as_level(threshold[j]),
            "probability": chance(reached[j]),
            "looked": bool(computed.arrays.looked[i, j]),
            "judged_by": judged_by(checkpoints[j], int(threshold[j])),
        }
        for j in sorted(at, key=lambda j: -reached[j])
    ]


def wants(computed: Computed, i: int) -> list[WantMet]:
    """Every want and whether she meets it; None if nobody knows."""
    boats, arrays, level = computed.inputs.boats, computed.arrays, computed.belief.level
    rows: list[WantMet] = []
    for want in computed.inputs.wants:
        as_if = as_must(want, 0, boats, arrays, level)
        unknown = bool(np.isnan(as_if.value[i]))
        rows.append(
            {
                "want_id": str(want.id),
                "person_id": str(want.person_id),
                "must": want.must,
                "weight": want.weight,
                "subject": want.subject,
                "key": want.key,
                "test": want.test,
                "wanted": want.value,
                "text": want.text,
                "met": None if unknown else not bool(as_if.broken[i]),
            }
        )
    return rows
