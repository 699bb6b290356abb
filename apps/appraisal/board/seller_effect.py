"""What the answers of a boat's seller change for her. Nothing is stored.

It runs the same computation without her answers and with them, as the what-if does.
"""

import uuid
from collections.abc import Mapping
from dataclasses import replace
from typing import TypedDict

from apps.accounts.models import Person
from apps.appraisal.board.what_if import OpenStanding, standing_of
from apps.appraisal.compute.bounds import require_small_enough
from apps.appraisal.compute.computing import compute
from apps.appraisal.compute.inputs import BoatInputs, Inputs, read_inputs
from apps.appraisal.opinions import Reader
from apps.appraisal.reading import names_of
from apps.appraisal.words.changes import changed
from apps.appraisal.words.sentences import CAUTION
from apps.boats.selectors import candidate_for
from apps.sellers.facts import LiveAnswer, latest_answers
from apps.sellers.questions import SELLERS_WORD

FALLS_OUT = "By the seller's answers alone she falls out: nobody has to travel to see that."


class SellerEffect(TypedDict):
    candidate_id: uuid.UUID
    name: str
    answers: int
    before: OpenStanding
    after: OpenStanding
    falls_out: bool
    sentence: str
    caution: str
    revision: int


def seller_effect(person: Person, candidate_id: uuid.UUID) -> SellerEffect:
    """Her standing without her seller's answers and with them, as the person may see it."""
    candidate = candidate_for(person, candidate_id)
    inputs = read_inputs(candidate.list_id).seen_by(Reader.of(person, candidate.list))
    require_small_enough(inputs)
    names, place = names_of(candidate.list), [boat.id for boat in inputs.boats].index(candidate.pk)
    own = [one for one in latest_answers(inputs.answers) if one.candidate_id == candidate.pk]
    computed = compute(inputs)
    after = before = standing_of(computed, place, names)
    if own:
        before = standing_of(compute(without_answers(inputs, candidate.pk)), place, names)
    falls_out = after["strike_off_advised"] and not before["strike_off_advised"]
    return {
        "candidate_id": candidate.pk,
        "name": candidate.name,
        "answers": len(own),
        "before": before,
        "after": after,
        "falls_out": falls_out,
        "sentence": in_words(before, after, bool(own), falls_out),
        "caution": f"{CAUTION} {SELLERS_WORD}",
        "revision": candidate.list.inputs_revision,
    }


def in_words(before: OpenStanding, after: OpenStanding, answered: bool, falls_out: bool) -> str:
    if not answered:
        return "Nothing was answered yet."
    if not falls_out:
        return changed(before, after)
    why = " ".join(one["sentence"] for one in after["advice"])
    return f"{FALLS_OUT} {why}"


def without_answers(inputs: Inputs, boat_id: uuid.UUID) -> Inputs:
    """A copy without the answers of this boat's seller, and with the particulars from before."""
    own = [one for one in inputs.answers if one.candidate_id == boat_id]
    return replace(
        inputs,
        answers=tuple(one for one in inputs.answers if one.candidate_id != boat_id),
        boats=tuple(_before(boat, own) if boat.id == boat_id else boat for boat in inputs.boats),
    )


def _before(boat: BoatInputs, answers: list[LiveAnswer]) -> BoatInputs:
    """The boat with what these answers, the last one first, took the place of."""
    numbers = dict(boat.numbers)
    for answer in reversed(answers):
        for name in answer.replaced:
            if numbers.get(name) == _number(answer.particulars, name):
                numbers.pop(name, None)
                if (was := _number(answer.replaced, name)) is not None:
                    numbers[name] = was
    return replace(boat, numbers=numbers)


def _number(values: Mapping[str, object], name: str) -> float | None:
    value = values.get(name)
    return float(value) if isinstance(value, int | float) else None
