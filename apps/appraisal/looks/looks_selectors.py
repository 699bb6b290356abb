"""Next looks, raters and explanations as one reader may see them."""

import uuid
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from apps.accounts.models import Person
from apps.appraisal.board.candidate_selectors import candidate_seen
from apps.appraisal.board.selectors import names_of
from apps.appraisal.compute.bounds import require_small_enough
from apps.appraisal.compute.computing import compute
from apps.appraisal.compute.deciding import deciding_alone, deciding_of, prospects_of
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.compute.seen import looks_seen
from apps.appraisal.envelope import Origin, envelope, fresh_enough
from apps.appraisal.figures import Json, as_amount
from apps.appraisal.jobs import looks_behind
from apps.appraisal.looks import looks_sentences as words
from apps.appraisal.looks.cost_looks import moving
from apps.appraisal.looks.next_looks import visits_as_asked
from apps.appraisal.models import ListAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.stored import COST_LOOKS, RATERS, Readability, StoredValue, read
from apps.appraisal.stored.candidates import Explanation
from apps.appraisal.stored.looks import (
    Agreement,
    AnyCheck,
    AnyQuestion,
    AnyVisit,
    LeftOut,
    NextLooks,
    Rater,
    StoredVisit,
    Survey,
    VisitOfCosts,
    Who,
)
from apps.appraisal.words.phrases import Names
from apps.appraisal.words.sentences import hidden
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.selectors import list_for
from apps.boats.usual_figures import CatalogueMoney

MOST_OF_COSTS = 30  # rows of a kind

R = TypeVar("R", bound=AnyCheck | AnyVisit | Survey | AnyQuestion | LeftOut)


def next_looks_read(
    person: Person,
    list_id: uuid.UUID,
    *,
    wait: float = 0,
    trip_cost: float | None = None,
    conditions: Mapping[str, Any] | None = None,
) -> Json:
    """What to look at next. With conditions, the value of a visit in them is added.

    trip_cost: in the list's currency; no single look below it is worth a trip. If it is left out,
    the usual cost is used, if the brief has a rate for the catalogue's currency.
    """
    candidate_list = list_for(person, list_id)
    fresh_enough(candidate_list, wait, looks_behind)
    names, reader = names_of(candidate_list), Reader.of(person, candidate_list)
    seen = looks_seen(reader, list_id)
    appraisal, looks = seen.appraisal, seen.results
    catalogue_money = CatalogueMoney.of(candidate_list)
    trip = catalogue_money.trip_cost if trip_cost is None else trip_cost
    asked = visits_asked(list_id, reader, conditions) if conditions else VisitsAsked([], [])
    settled = seen.read.state == Readability.WHOLE and is_settled(looks, trip)
    return {
        **looks_envelope(candidate_list, appraisal, seen.read, catalogue_money),
        "list": {"id": str(list_id), "name": candidate_list.name},
        "currency": candidate_list.currency,
        "value": looks and looks["value"],
        "ceiling": looks and looks["ceiling"],
        "trip_cost": None if trip is None else as_amount(trip, candidate_list.currency),
        "settled": settled,
        "checks": with_sentences(looks["checks"] if looks else (), words.check, names),
        "visits": with_sentences(
            [*asked.value, *(looks["visits"] if looks else ())], words.visit, names
        ),
        "surveys": surveys_with_sentences(looks["surveys"] if looks else (), names),
        "questions": with_sentences(looks["questions"] if looks else (), words.question, names),
        "left_out": with_sentences(looks["left_out"] if looks else (), words.left_out, names),
        "of_costs": of_costs(appraisal, asked.moves, names),
        "sentences": [
            *([words.SETTLED] if settled else []),
            *hidden(hidden_among(looks), False, names),
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


def of_costs(appraisal: ListAppraisal | None, asked: Sequence[VisitOfCosts], names: Names) -> Json:
    """By how much looks would move expected costs, the same for every reader."""
    looks = read(appraisal, COST_LOOKS).value
    checks = looks["checks"][:MOST_OF_COSTS] if looks else ()
    visits = [*asked, *(looks["visits"] if looks else ())]
    questions = looks["questions"][:MOST_OF_COSTS] if looks else ()
    return {
        "checks": with_sentences(checks, words.check_of_costs, names),
        "visits": with_sentences(visits, words.visit_of_costs, names),
        "questions": with_sentences(questions, words.question, names),
        "sentence": words.OF_COSTS,
    }


def hidden_among(looks: NextLooks | None) -> list[str]:
    """The boats left out because others' opinions of them are hidden from the reader."""
    left_out = looks["left_out"] if looks else ()
    return [one["candidate_id"] for one in left_out if one["why"] == "valuation_hidden"]


def surveys_with_sentences(surveys: Sequence[Survey], names: Names) -> list[Json]:
    """Each with `now`: what a survey of her would change, without what holds for every boat."""
    found = with_sentences(surveys, words.survey, names)
    return [
        {**row, "now": words.survey_now(survey, names)}
        for row, survey in zip(found, surveys, strict=True)
    ]


def with_sentences(
    rows: Iterable[R], sentence: Callable[[R, Names], str], names: Names
) -> list[Json]:
    """Each row with the names of its boat and person, and its sentence."""
    found: list[Json] = []
    for row in rows:
        found_row: Mapping[str, Any] = row
        person = (
            {"person": names.person(found_row["person_id"])} if found_row.get("person_id") else {}
        )
        boat = names.boat(found_row["candidate_id"])
        found.append({**found_row, "name": boat, **person, "sentence": sentence(row, names)})
    return found


def is_settled(looks: NextLooks | None, trip_cost: float | None) -> bool:
    """Whether no check and no visit is worth a trip; False if not all values are known."""
    if looks is None or looks["value"] is None or trip_cost is None or hidden_among(looks):
        return False
    values = [float(one["value"]["amount"]) for one in (*looks["checks"], *looks["visits"])]
    return max(values, default=0.0) <= trip_cost


@dataclass(frozen=True)
class VisitsAsked:
    """A visit to each boat: its value for the choice, and by how much it moves the cost."""

    value: Sequence[StoredVisit]
    moves: Sequence[VisitOfCosts]


def visits_asked(list_id: uuid.UUID, reader: Reader, conditions: Mapping[str, Any]) -> VisitsAsked:
    """Visits in these conditions, computed from what the reader may see; nothing is stored."""
    inputs = read_inputs(list_id).seen_by(reader)
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


def looks_envelope(
    candidate_list: CandidateList,
    appraisal: ListAppraisal | None,
    stored: StoredValue[Any],
    money: CatalogueMoney | None = None,
) -> Json:
    return envelope(
        candidate_list,
        money=money,
        origin=Origin.of_looks(appraisal),
        read=stored,
        appraisal=appraisal,
        behind=looks_behind,
    )


# --- Raters ----------------------------------------------------------------------------------


def raters_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Json:
    """How each person tends to grade, and how far people agree."""
    candidate_list = list_for(person, list_id)
    fresh_enough(candidate_list, wait, looks_behind)
    appraisal = ListAppraisal.objects.filter(pk=list_id).first()
    names = names_of(candidate_list)
    raters = read(appraisal, RATERS)
    stored = raters.value
    agreement = stored.get("agreement") if stored else None
    return {
        **looks_envelope(candidate_list, appraisal, raters),
        "list": {"id": str(list_id), "name": candidate_list.name},
        "raters": [rater_read(one, names) for one in (stored["raters"] if stored else ())],
        "agreement": agreement and agreement_read(agreement, names),
    }


def rater_read(one: Rater, names: Names) -> Json:
    areas = [{**area, "sentence": words.on_area(area)} for area in one["by_area"]]
    return {
        **one,
        "name": names.person(one["person_id"]),
        "by_area": areas,
        "sentences": [
            words.lean(one, names),
            *(area["sentence"] for area in areas if area["sentence"]),
        ],
    }


def agreement_read(stored: Agreement, names: Names) -> Json:
    return {
        "list": {**stored["list"], "sentence": words.agreement(stored["list"])},
        "by_area": stored["by_area"],
        "pairs": [
            {**pair, "first": named(pair["first"], names), "second": named(pair["second"], names)}
            for pair in stored["pairs"]
        ],
    }


def named(who: Who, names: Names) -> Json:
    return {**who, "name": names.person(who["person_id"])}


# --- Explanation of one candidate ----------------------------------------------------------------


def explanation_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    """Where her cost comes from, step by step, and which facts would change her place."""
    both = candidate_seen(person, candidate_id, wait, looks_behind, looks_seen)
    found, seen = both.found, both.seen
    names = names_of(found.candidate.list)
    hidden_from = str(candidate_id) in hidden_among(seen.results)
    explanation = seen.explanation(found.row)
    return {
        **found.answer(explanation),
        **explanation_serialized(explanation.value, found.candidate, names),
        "sentences": hidden([str(candidate_id)] if hidden_from else [], False, names),
    }


def explanation_serialized(stored: Explanation | None, candidate: Candidate, names: Names) -> Json:
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
