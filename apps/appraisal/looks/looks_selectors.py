"""Next looks, raters and explanations as one reader may see them."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NotRequired, TypedDict

from apps.accounts.models import Person
from apps.appraisal.board.candidate_selectors import CandidateHead, candidate_seen
from apps.appraisal.compute.bounds import require_small_enough
from apps.appraisal.compute.computing import compute
from apps.appraisal.compute.deciding import deciding_alone, deciding_of, prospects_of
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.compute.seen import looks_seen, ready_seen
from apps.appraisal.envelope import AnswerHead, envelope
from apps.appraisal.figures import as_amount
from apps.appraisal.jobs import Of
from apps.appraisal.looks import looks_sentences as words
from apps.appraisal.looks.answer import (
    LooksBody,
    LooksFacts,
    hidden_among,
    looks_body,
    looks_facts,
)
from apps.appraisal.looks.cost_looks import moving
from apps.appraisal.looks.next_looks import visits_as_asked
from apps.appraisal.models import ListAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.reading import Boat, Reading
from apps.appraisal.ready import as_json, filled, joined
from apps.appraisal.stored import COST_LOOKS, EXPLANATION, RATERS, Readability, StoredValue, read
from apps.appraisal.stored.candidates import Explanation, StoredChange
from apps.appraisal.stored.looks import (
    Agreement,
    AreaAgreement,
    AreaTendency,
    Coefficient,
    Rater,
    StoredVisit,
    Tendency,
    VisitOfCosts,
    Who,
)
from apps.appraisal.stored.parts import Amount, Level
from apps.appraisal.words.phrases import Names
from apps.appraisal.words.sentences import hidden
from apps.boats.models import Candidate
from apps.common.shapes import IdAndName


class LooksHead(AnswerHead):
    list: IdAndName
    currency: str
    trip_cost: Amount | None
    settled: bool
    sentences: list[str]


class NextLooksAnswer(LooksHead, LooksBody):
    pass


def next_looks_read(
    person: Person,
    list_id: uuid.UUID,
    *,
    wait: float = 0,
    trip_cost: float | None = None,
    conditions: Mapping[str, Any] | None = None,
) -> NextLooksAnswer:
    """What to look at next. With conditions, the value of a visit in them is added.

    trip_cost: in the list's currency; no single look below it is worth a trip. If it is left out,
    the usual cost is used, if the brief has a rate for the catalogue's currency.
    """
    return next_looks_of(Reading.of_list(person, list_id, Of.LOOKS, wait), trip_cost, conditions)


def next_looks_of(
    reading: Reading, trip_cost: float | None = None, conditions: Mapping[str, Any] | None = None
) -> NextLooksAnswer:
    seen = looks_seen(reading.reader, reading.list_id)
    asked = visits_asked(reading, conditions) if conditions else VisitsAsked([], [])
    reading, costs = reading.at(seen.appraisal), read(seen.appraisal, COST_LOOKS).value
    return {
        **looks_head(reading, seen.read, looks_facts(seen.results), trip_cost),
        **looks_body(seen.results, costs, reading.names, asked.value, asked.moves),
    }


def next_looks_answer(reading: Reading, trip_cost: float | None = None) -> bytes:
    """The same as it is sent, without conditions."""
    ready = ready_seen(reading.reader, reading.appraisal, Of.LOOKS)
    if ready is None:
        return as_json(next_looks_of(reading, trip_cost)).encode()
    facts = LooksFacts(hidden=ready.facts["hidden"], most=ready.facts["most"])
    head = looks_head(reading, StoredValue(), facts, trip_cost)
    return joined(head, filled(ready.body, reading.names))


def looks_etag(
    reading: Reading, trip_cost: float | None = None, conditions: Mapping[str, Any] | None = None
) -> str:
    return reading.etag("next looks", trip_cost=trip_cost, conditions=conditions or {})


def looks_head(
    reading: Reading, stored: StoredValue[Any], facts: LooksFacts, trip_cost: float | None
) -> LooksHead:
    candidate_list = reading.candidate_list
    trip = reading.money.trip_cost if trip_cost is None else trip_cost
    most, whole = facts["most"], stored.state == Readability.WHOLE
    settled = whole and most is not None and trip is not None and most <= trip
    return {
        **envelope(reading, Of.LOOKS, stored),
        "list": {"id": str(candidate_list.pk), "name": candidate_list.name},
        "currency": candidate_list.currency,
        "trip_cost": None if trip is None else as_amount(trip, candidate_list.currency),
        "settled": settled,
        "sentences": [
            *([words.SETTLED] if settled else []),
            *hidden(facts["hidden"], False, reading.names),
            *words.LEFT_OUT,
        ],
    }


def check_values_seen(person: Person, candidate: Candidate) -> dict[str, float]:
    """The value of a look at each of a boat's checkpoints, by code, as far as the person may see.

    A person who sees no valuations gets none.
    """
    looks = looks_seen(Reader.of(person, candidate.list), candidate.list_id).results
    return {
        row["checkpoint"]: float(row["value"]["amount"])
        for row in (looks["checks"] if looks else ())
        if row["candidate_id"] == str(candidate.pk)
    }


@dataclass(frozen=True)
class VisitsAsked:
    """A visit to each boat: its value for the choice, and by how much it moves the cost."""

    value: Sequence[StoredVisit]
    moves: Sequence[VisitOfCosts]


def visits_asked(reading: Reading, conditions: Mapping[str, Any]) -> VisitsAsked:
    """Visits in these conditions, computed from what the reader may see; nothing is stored."""
    inputs = read_inputs(reading.list_id).seen_by(reading.reader)
    require_small_enough(inputs)
    computed = compute(inputs)
    prospects = prospects_of(computed)
    deciding, alone = deciding_of(computed, prospects), deciding_alone(computed, prospects)
    return VisitsAsked(
        value=visits_as_asked(computed, deciding, conditions) if deciding else [],
        moves=[moving(row) for row in visits_as_asked(computed, alone, conditions)]
        if alone
        else [],
    )


# --- Raters ----------------------------------------------------------------------------------


class AreaTendencyRead(AreaTendency):
    sentence: str


class RaterRead(Who):
    findings: int
    lean: Tendency
    spread: Tendency
    name: str
    by_area: list[AreaTendencyRead]
    sentences: list[str]


class ListAgreement(Coefficient):
    sentence: str


class WhoRead(Who):
    name: str


class PairRead(TypedDict):
    first: WhoRead
    second: WhoRead
    common: int
    kappa: Coefficient
    same: float | None
    difference: float | None


class AgreementRead(TypedDict):
    list: ListAgreement
    by_area: list[AreaAgreement]
    pairs: list[PairRead]


class RatersAnswer(AnswerHead):
    list: IdAndName
    raters: list[RaterRead]
    agreement: AgreementRead | None


def raters_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> RatersAnswer:
    """How each person tends to grade, and how far people agree."""
    return raters_of(Reading.of_list(person, list_id, Of.LOOKS, wait))


def raters_of(reading: Reading) -> RatersAnswer:
    others = [name for name in ListAppraisal.LARGE if name != RATERS.field]
    appraisal = ListAppraisal.objects.filter(pk=reading.list_id).defer(*others).first()
    reading, names = reading.at(appraisal), reading.names
    raters = read(appraisal, RATERS)
    stored = raters.value
    agreement = stored.get("agreement") if stored else None
    return {
        **envelope(reading, Of.LOOKS, raters),
        "list": {"id": str(reading.list_id), "name": reading.candidate_list.name},
        "raters": [rater_read(one, names) for one in (stored["raters"] if stored else ())],
        "agreement": agreement and agreement_read(agreement, names),
    }


def rater_read(one: Rater, names: Names) -> RaterRead:
    areas: list[AreaTendencyRead] = [
        {**area, "sentence": words.on_area(area)} for area in one["by_area"]
    ]
    return {
        **one,
        "name": names.person(one["person_id"]),
        "by_area": areas,
        "sentences": [
            words.lean(one, names),
            *(area["sentence"] for area in areas if area["sentence"]),
        ],
    }


def agreement_read(stored: Agreement, names: Names) -> AgreementRead:
    return {
        "list": {**stored["list"], "sentence": words.agreement(stored["list"])},
        "by_area": stored["by_area"],
        "pairs": [
            {**pair, "first": named(pair["first"], names), "second": named(pair["second"], names)}
            for pair in stored["pairs"]
        ],
    }


def named(who: Who, names: Names) -> WhoRead:
    return {**who, "name": names.person(who["person_id"])}


# --- Explanation of one candidate ----------------------------------------------------------------


class StepRead(TypedDict):
    of: str
    area: str | None
    title: str | None
    cause: str | None
    amount: Amount
    total: Amount
    label: str


class ChangeRead(StoredChange):
    fact: str
    now_level: NotRequired[Level]
    then_level: NotRequired[Level]
    now_amount: NotRequired[Amount]
    then_amount: NotRequired[Amount]
    sentence: str


class ExplanationBody(TypedDict):
    waterfall: list[StepRead]
    changes: list[ChangeRead]
    compared: bool


class ExplanationAnswer(CandidateHead, ExplanationBody):
    sentences: list[str]


def explanation_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> ExplanationAnswer:
    """Where her cost comes from, step by step, and which facts would change her place."""
    return explanation_of(Reading.of_candidate(person, candidate_id, Of.LOOKS, wait), candidate_id)


def explanation_of(reading: Reading, candidate_id: uuid.UUID) -> ExplanationAnswer:
    both = candidate_seen(reading, candidate_id, Of.LOOKS, EXPLANATION, looks_seen)
    found, seen, names = both.found, both.seen, reading.names
    hidden_from = str(candidate_id) in hidden_among(seen.results)
    explanation = seen.explanation(found.row)
    return {
        **found.answer(explanation),
        **explanation_serialized(explanation.value, found.boat, names),
        "sentences": hidden([str(candidate_id)] if hidden_from else [], False, names),
    }


def explanation_serialized(
    stored: Explanation | None, candidate: Candidate | Boat, names: Names
) -> ExplanationBody:
    """A stored explanation with its sentences."""
    if stored is None:
        return {"waterfall": [], "changes": [], "compared": False}
    return {
        "waterfall": [{**step, "label": words.step(step)} for step in stored["waterfall"]],
        "changes": [
            {**change, "sentence": words.change(change, candidate.name, names)}
            for change in stored["changes"]
        ],
        "compared": stored.get("compared", False),
    }
