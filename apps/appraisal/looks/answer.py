"""The part of the next looks' answer that is the same for all readers of the same opinions.

It is composed from the stored looks, with sentences, and kept as it is sent (`ready`).
"""

from collections.abc import Sequence
from typing import NotRequired, TypedDict

from apps.appraisal.looks import looks_sentences as words
from apps.appraisal.stored.looks import (
    AnyCheck,
    AnyQuestion,
    AnyVisit,
    Check,
    CheckOfCosts,
    CostLooks,
    LeftOut,
    NextLooks,
    StoredSurvey,
    StoredVisit,
    VisitOfCosts,
)
from apps.appraisal.stored.parts import Amount
from apps.appraisal.words.phrases import Names

MOST_OF_COSTS = 30  # rows of a kind


class RowWords(TypedDict):
    """Of each row: its sentence, and the names of its boat and person."""

    name: str
    person: NotRequired[str]
    sentence: str


class CheckRead(Check, RowWords):
    pass


class CheckOfCostsRead(CheckOfCosts, RowWords):
    pass


class VisitRead(StoredVisit, RowWords):
    pass


class VisitOfCostsRead(VisitOfCosts, RowWords):
    pass


class SurveyRead(StoredSurvey, RowWords):
    """now: what a survey of her would change, without what holds for every boat."""

    now: str


class QuestionRead(RowWords):
    candidate_id: str
    kind: str
    subject: str
    title: str
    ask: NotRequired[str]
    price: NotRequired[Amount]
    value: NotRequired[Amount | None]
    moves: NotRequired[Amount]


class LeftOutRead(LeftOut, RowWords):
    pass


class OfCosts(TypedDict):
    checks: list[CheckOfCostsRead]
    visits: list[VisitOfCostsRead]
    questions: list[QuestionRead]
    sentence: str


class LooksBody(TypedDict):
    value: Amount | None
    ceiling: Amount | None
    checks: list[CheckRead]
    visits: list[VisitRead]
    surveys: list[SurveyRead]
    questions: list[QuestionRead]
    left_out: list[LeftOutRead]
    of_costs: OfCosts


class LooksFacts(TypedDict):
    """hidden: boats left out because others' opinions of them are hidden from the reader.

    most: the value of the most valuable check or visit, less what a sea trial costs; None if not
    all values are known.
    """

    hidden: list[str]
    most: float | None


def looks_body(
    looks: NextLooks | None,
    costs: CostLooks | None,
    names: Names,
    asked: Sequence[StoredVisit] = (),
    asked_of_costs: Sequence[VisitOfCosts] = (),
) -> LooksBody:
    """costs: by how much looks would move expected costs, the same for every reader.

    asked: visits in the conditions that the reader asked for, which come first.
    """
    visits: list[StoredVisit] = [*asked, *(looks["visits"] if looks else ())]
    return {
        "value": looks and looks["value"],
        "ceiling": looks and looks["ceiling"],
        "checks": [
            {**one, **of_person(one, words.check(one, names), names)}
            for one in (looks["checks"] if looks else ())
        ],
        "visits": [{**one, **of_boat(one, words.visit(one, names), names)} for one in visits],
        "surveys": [
            {
                **one,
                **of_boat(one, words.survey(one, names), names),
                "now": words.survey_now(one, names),
            }
            for one in (looks["surveys"] if looks else ())
        ],
        "questions": [question_read(one, names) for one in (looks["questions"] if looks else ())],
        "left_out": [
            {**one, **of_boat(one, words.left_out(one, names), names)}
            for one in (looks["left_out"] if looks else ())
        ],
        "of_costs": of_costs(costs, asked_of_costs, names),
    }


def of_costs(costs: CostLooks | None, asked: Sequence[VisitOfCosts], names: Names) -> OfCosts:
    checks = costs["checks"][:MOST_OF_COSTS] if costs else ()
    visits: list[VisitOfCosts] = [*asked, *(costs["visits"] if costs else ())]
    questions = costs["questions"][:MOST_OF_COSTS] if costs else ()
    return {
        "checks": [check_of_costs_read(one, names) for one in checks],
        "visits": [
            {**one, **of_boat(one, words.visit_of_costs(one, names), names)} for one in visits
        ],
        "questions": [question_read(one, names) for one in questions],
        "sentence": words.OF_COSTS,
    }


def check_of_costs_read(one: CheckOfCosts, names: Names) -> CheckOfCostsRead:
    return {**one, **of_person(one, words.check_of_costs(one, names), names)}


def question_read(one: AnyQuestion, names: Names) -> QuestionRead:
    return {**one, **of_boat(one, words.question(one, names), names)}


def of_person(check: AnyCheck, sentence: str, names: Names) -> RowWords:
    found = of_boat(check, sentence, names)
    if check["person_id"]:
        found["person"] = names.person(check["person_id"])
    return found


def of_boat(
    one: AnyCheck | AnyVisit | StoredSurvey | AnyQuestion | LeftOut, sentence: str, names: Names
) -> RowWords:
    return {"name": names.boat(one["candidate_id"]), "sentence": sentence}


def looks_facts(looks: NextLooks | None) -> LooksFacts:
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
