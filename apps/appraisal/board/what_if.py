"""The board as it would be if some inputs were different. Nothing is stored.

It runs the same computation on a changed copy of the inputs, without the opinions that are hidden
from the person who asks. People can change only what is on a list that they see.
"""

import uuid
from typing import TypedDict

from apps.accounts.models import Person
from apps.appraisal.board.answer import AdviceRead, JudgedRead, advice_serialized, to_be_judged
from apps.appraisal.board.board import row
from apps.appraisal.board.what_if_changes import WhatIfChanges, changed
from apps.appraisal.board.what_if_faults import faults_of
from apps.appraisal.compute.bounds import require_small_enough
from apps.appraisal.compute.computing import METHOD, Computed, compute
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.opinions import Reader
from apps.appraisal.reading import names_of
from apps.appraisal.stored.parts import Range, StoredCondition
from apps.appraisal.words.changes import ComparedFigures
from apps.appraisal.words.changes import changed as changed_in_words
from apps.appraisal.words.phrases import Names
from apps.appraisal.words.sentences import CAUTION
from apps.boats.selectors import list_for
from apps.common.errors import require_no_faults
from apps.common.shapes import IdAndName


class OpenStanding(ComparedFigures):
    """A row of the board without buyers' opinions, which may be hidden from the reader."""

    later: Range | None
    condition: StoredCondition
    open_doubts: int
    strike_off_advised: bool
    advice: list[AdviceRead]
    before_buying: list[JudgedRead]


class BoatCompared(TypedDict):
    candidate_id: str
    name: str
    now: OpenStanding
    then: OpenStanding
    sentence: str


class WhatIf(TypedDict):
    list: IdAndName
    revision: int
    method: str
    caution: str
    candidates: list[BoatCompared]


def what_if(person: Person, list_id: uuid.UUID, changes: WhatIfChanges) -> WhatIf:
    """The board as it is and would be, boat by boat. Raises `Invalid` for impossible changes."""
    candidate_list = list_for(person, list_id)
    inputs = read_inputs(list_id).seen_by(Reader.of(person, candidate_list))
    require_small_enough(inputs)
    require_no_faults(faults_of(changes, inputs))
    now = compute(inputs)
    believed = None if changes.of_belief else now.believed
    then = compute(changed(inputs, changes), believed=believed)
    return {
        "list": {"id": str(list_id), "name": candidate_list.name},
        "revision": candidate_list.inputs_revision,
        "method": METHOD,
        "caution": CAUTION,
        "candidates": compared(now, then, names_of(candidate_list)),
    }


def compared(now: Computed, then: Computed, names: Names) -> list[BoatCompared]:
    """Each boat before and after, in the order after the changes; struck-off ones last."""
    struck_off = [i for i, boat in enumerate(then.inputs.boats) if boat.struck_off]
    return [_compared(now, then, i, names) for i in (*then.standing.order, *struck_off)]


def _compared(now: Computed, then: Computed, i: int, names: Names) -> BoatCompared:
    boat = str(now.inputs.boats[i].id)
    before, after = standing_of(now, i, names), standing_of(then, i, names)
    return {
        "candidate_id": boat,
        "name": names.boat(boat),
        "now": before,
        "then": after,
        "sentence": changed_in_words(before, after),
    }


def standing_of(computed: Computed, i: int, names: Names) -> OpenStanding:
    full = row(computed, i)
    return {
        "place": full["place"],
        "upfront": full["upfront"],
        "later": full["later"],
        "all_in": full["all_in"],
        "within_budget": full["within_budget"],
        "condition": full["condition"],
        "missing": full["missing"],
        "open_doubts": full["open_doubts"],
        "strike_off_advised": bool(full["advice"]),
        "advice": [advice_serialized(one, names) for one in full["advice"]],
        "before_buying": to_be_judged(full.get("before_buying", ())),
    }
