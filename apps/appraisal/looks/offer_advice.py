"""What to offer for one boat as one reader may see it."""

import uuid
from typing import TypedDict

from apps.accounts.models import Person
from apps.appraisal.board.candidate_selectors import CandidateHead, CandidateRead, candidate_seen
from apps.appraisal.compute.seen import looks_seen
from apps.appraisal.jobs import Of
from apps.appraisal.looks.answer import hidden_among
from apps.appraisal.reading import Reading
from apps.appraisal.stored import EXPLANATION, ROLLUP, read
from apps.appraisal.stored.candidates import Explanation
from apps.appraisal.stored.offering import AsksFigures, OfferFigures, StoredAsk, StoredOffering
from apps.appraisal.words import offering as words
from apps.appraisal.words import sentences
from apps.appraisal.words.phrases import Names
from apps.appraisal.words.sentences import hidden
from apps.boats.vocabulary import Stage


class AskRead(StoredAsk):
    sentence: str


class AsksRead(AsksFigures):
    items: list[AskRead]
    sentence: str


class OfferingRead(OfferFigures):
    asks: AsksRead
    plan_sentence: str
    limit_sentences: list[str]
    sensitivity_sentences: list[str]


class WhyNone(TypedDict):
    code: str
    missing: list[str]
    sentence: str


class OfferAdvice(CandidateHead):
    offering: OfferingRead | None
    why_none: WhyNone | None
    sentences: list[str]


def offer_advice_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> OfferAdvice:
    return offer_advice_of(Reading.of_candidate(person, candidate_id, Of.LOOKS, wait), candidate_id)


def offer_advice_of(reading: Reading, candidate_id: uuid.UUID) -> OfferAdvice:
    """`offering` is None for a boat that is struck off or cannot be priced: see `why_none`."""
    both = candidate_seen(reading, candidate_id, Of.LOOKS, EXPLANATION, looks_seen)
    found, seen, names = both.found, both.seen, reading.names
    hidden_from = str(candidate_id) in hidden_among(seen.results)
    explanation = seen.explanation(found.row)
    offering = offering_in(explanation.value, names)
    return {
        **found.answer(explanation),
        "offering": offering,
        "why_none": None if offering else why_none(found),
        "sentences": [
            *hidden([str(candidate_id)] if hidden_from else [], False, names),
            words.SURVEY_FIRST,
            words.NO_CONTRACT,
        ],
    }


def offering_in(explanation: Explanation | None, names: Names) -> OfferingRead | None:
    stored = explanation.get("offering") if explanation else None
    return stored and offering_serialized(stored, names)


def why_none(found: CandidateRead) -> WhyNone:
    """One query more, for what a boat lacks to be priced."""
    code = "struck_off" if found.boat.stage == Stage.STRUCK_OFF else "not_computed"
    rollup = read(found.row, ROLLUP).value
    missing = rollup["missing"] if rollup else []
    if missing and code != "struck_off":
        return {"code": "not_priced", "missing": missing, "sentence": sentences.missing(missing)}
    return {"code": code, "missing": [], "sentence": words.NONE[code]}


def offering_serialized(stored: StoredOffering, names: Names) -> OfferingRead:
    """With its sentences."""
    asks = stored["asks"]
    return {
        **stored,
        "asks": {
            **asks,
            "items": [{**one, "sentence": words.ask(one)} for one in asks["items"]],
            "sentence": words.asks(asks),
        },
        "plan_sentence": words.plan(stored, names),
        "limit_sentences": words.limits(stored, names),
        "sensitivity_sentences": words.moved(stored),
    }
