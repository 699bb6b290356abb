"""The part of the next looks' answer that is the same for all readers of the same opinions.

It is composed from the stored looks, with sentences, and kept as it is sent (`ready`).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

from apps.appraisal.figures import Json
from apps.appraisal.looks import looks_sentences as words
from apps.appraisal.stored.looks import (
    AnyCheck,
    AnyQuestion,
    AnyVisit,
    CostLooks,
    LeftOut,
    NextLooks,
    StoredSurvey,
    StoredVisit,
    VisitOfCosts,
)
from apps.appraisal.words.phrases import Names

MOST_OF_COSTS = 30  # rows of a kind

R = TypeVar("R", bound=AnyCheck | AnyVisit | StoredSurvey | AnyQuestion | LeftOut)


def looks_body(
    looks: NextLooks | None,
    costs: CostLooks | None,
    names: Names,
    asked: Sequence[StoredVisit] = (),
    asked_of_costs: Sequence[VisitOfCosts] = (),
) -> Json:
    """costs: by how much looks would move expected costs, the same for every reader.

    asked: visits in the conditions that the reader asked for, which come first.
    """
    return {
        "value": looks and looks["value"],
        "ceiling": looks and looks["ceiling"],
        "checks": with_sentences(looks["checks"] if looks else (), words.check, names),
        "visits": with_sentences([*asked, *(looks["visits"] if looks else ())], words.visit, names),
        "surveys": surveys_with_sentences(looks["surveys"] if looks else (), names),
        "questions": with_sentences(looks["questions"] if looks else (), words.question, names),
        "left_out": with_sentences(looks["left_out"] if looks else (), words.left_out, names),
        "of_costs": of_costs(costs, asked_of_costs, names),
    }


def of_costs(costs: CostLooks | None, asked: Sequence[VisitOfCosts], names: Names) -> Json:
    checks = costs["checks"][:MOST_OF_COSTS] if costs else ()
    visits = [*asked, *(costs["visits"] if costs else ())]
    questions = costs["questions"][:MOST_OF_COSTS] if costs else ()
    return {
        "checks": with_sentences(checks, words.check_of_costs, names),
        "visits": with_sentences(visits, words.visit_of_costs, names),
        "questions": with_sentences(questions, words.question, names),
        "sentence": words.OF_COSTS,
    }


def surveys_with_sentences(surveys: Sequence[StoredSurvey], names: Names) -> list[Json]:
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


def looks_facts(looks: NextLooks | None) -> Json:
    """hidden: boats left out because others' opinions of them are hidden from the reader.

    most: the value of the most valuable check or visit, less what a sea trial costs; None if not
    all values are known.
    """
    hidden = hidden_among(looks)
    if looks is None or looks["value"] is None or hidden:
        return {"hidden": hidden, "most": None}
    values = [
        *(float(one["value"]["amount"]) for one in looks["checks"]),
        *(float(one["value"]["amount"]) - fee_of(one) for one in looks["visits"]),
    ]
    return {"hidden": hidden, "most": max(values, default=0.0)}


def fee_of(visit: StoredVisit) -> float:
    """What it costs beside the way there."""
    fee = visit.get("fee")
    return float(fee["amount"]) if fee else 0.0


def hidden_among(looks: NextLooks | None) -> list[str]:
    left_out = looks["left_out"] if looks else ()
    return [one["candidate_id"] for one in left_out if one["why"] == "valuation_hidden"]
