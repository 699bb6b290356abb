"""What to ask the seller: unknown years, checks that nobody could make, and prices."""

from collections.abc import Collection, Mapping, Sequence
from typing import TypeVar

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.deciding import Deciding
from apps.appraisal.compute.explanations import Explanations
from apps.appraisal.figures import as_amount
from apps.appraisal.looks.most_valuable import LEAST_VALUE, Most, most_valuable
from apps.appraisal.stored.looks import (
    NotSeenQuestion,
    PriceQuestion,
    Question,
    Year,
    YearQuestion,
)

Asked = TypeVar("Asked", bound=Question)

MOST_QUESTIONS = Most(10, 10)
# Years that may be unknown: the age that each gives, and the checkpoints whose question asks it.
YEARS: Mapping[Year, tuple[str, tuple[str, ...]]] = {
    "engine_year": ("engine", ("engine-record", "electric-drive")),
    "rigging_year": ("standing_rigging", ("wire-age", "rod-rigging", "fibre-rigging")),
    "sails_year": ("sails", ("mainsail", "headsails")),
    "build_year": ("boat", ("hull-number",)),
}


def questions(computed: Computed, deciding: Deciding, explanations: Explanations) -> list[Question]:
    """Questions whose answer from the seller could change the choice, highest value first."""
    rows: list[Question] = [
        *years_unknown(computed, deciding),
        *not_seen(computed, deciding, MOST_QUESTIONS),
        *prices(computed, deciding, explanations),
    ]
    rows.sort(key=lambda row: -float(row["value"]["amount"]) if row["value"] else 0.0)
    return each_once(rows)[: MOST_QUESTIONS.together]


def each_once(rows: Sequence[Asked]) -> list[Asked]:
    """Each question to the seller once, where its value is highest; a price is no such question."""
    found: dict[tuple[str, str], Asked] = {}
    for row in rows:
        found.setdefault((row["candidate_id"], row["ask"] or row["subject"]), row)
    return list(found.values())


def years_unknown(computed: Computed, deciding: Deciding) -> list[YearQuestion]:
    """A year that nobody knows, with the value of the best check that depends on it."""
    perfect, currency = deciding.decision.perfect, computed.inputs.brief.currency
    rows: list[YearQuestion] = []
    for n, i in enumerate(deciding.boats):
        boat = computed.inputs.boats[i]
        for year, (ages_with, asked_with) in YEARS.items():
            hangs = [c.belief.ages_with == ages_with for c in computed.arrays.checkpoints]
            value = float(perfect[n, np.array(hangs)].max(initial=0.0))
            ask = question_of(computed, i, asked_with)
            if year not in boat.numbers and value >= LEAST_VALUE and ask:
                rows.append(
                    {
                        "candidate_id": str(boat.id),
                        "kind": "year",
                        "subject": year,
                        "title": "",
                        "ask": ask,
                        "value": as_amount(value, currency),
                    }
                )
    return rows


def question_of(computed: Computed, i: int, codes: Collection[str]) -> str:
    """The seller question of the first of these checkpoints that the boat has; empty for none."""
    applies = computed.arrays.fleet.applies[i]
    has = {c.code: c.ask for c, on in zip(computed.arrays.checkpoints, applies, strict=True) if on}
    return next((has[code] for code in codes if has.get(code)), "")


def not_seen(computed: Computed, deciding: Deciding, most: Most) -> list[NotSeenQuestion]:
    """Checks that nobody could make, with the highest value, that the seller can answer."""
    perfect, currency = deciding.decision.perfect, computed.inputs.brief.currency
    askable = np.array([bool(checkpoint.ask) for checkpoint in computed.arrays.checkpoints])
    unseen = perfect * ~computed.arrays.looked[list(deciding.boats)] * askable
    return [
        {
            "candidate_id": str(computed.inputs.boats[deciding.boats[n]].id),
            "kind": "not_seen",
            "subject": computed.arrays.checkpoints[j].code,
            "title": computed.arrays.checkpoints[j].title,
            "ask": computed.arrays.checkpoints[j].ask,
            "value": as_amount(unseen[n, j], currency),
        }
        for n, j in most_valuable(unseen, most)
    ]


def prices(
    computed: Computed, deciding: Deciding, explanations: Explanations
) -> list[PriceQuestion]:
    """The asking price at which a boat would overtake the next better one."""
    rows: list[PriceQuestion] = []
    for i in deciding.boats:
        boat = computed.inputs.boats[i]
        for change in explanations[boat.id]["changes"]:
            if change["fact"] == "asking" and change["effect"] == "passes":
                rows.append(
                    {
                        "candidate_id": str(boat.id),
                        "kind": "price",
                        "subject": change["other"] or "",
                        "title": "",
                        "ask": "",
                        "price": change["then_amount"],
                        "value": None,
                    }
                )
    return rows
