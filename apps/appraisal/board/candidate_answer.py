"""The stored results of one boat with names and sentences."""

from typing import Literal, NotRequired, TypedDict

from apps.appraisal.board.answer import AdviceRead, JudgedRead, advice_serialized, to_be_judged
from apps.appraisal.reading import Boat
from apps.appraisal.stored.candidates import (
    BuyerCost,
    CheckpointBelief,
    Consensus,
    ConsensusFigures,
    DoubtRaised,
    NotLooked,
    RollupFigures,
    RunningYear,
    StoredCheckpoint,
    StoredOwnership,
    StoredReport,
    StoredRollup,
    StoredStatement,
)
from apps.appraisal.stored.standing import Doubt, Neighbour, Reasons, WalkAway, WantMet, WantsShare
from apps.appraisal.words import phrases, sentences
from apps.appraisal.words.phrases import Names
from apps.boats.models import Candidate

# --- Rollup --------------------------------------------------------------------------------------


class AssumedRead(TypedDict):
    code: str
    part: NotRequired[Literal["boat", "engine", "standing_rigging", "sails"]]
    years: NotRequired[int]
    year: NotRequired[int]
    carried_to: NotRequired[int]
    rate: NotRequired[float]
    remedy: NotRequired[str]
    sentence: str


class BuyerRead(BuyerCost):
    name: str


class RollupRead(RollupFigures):
    running_year: NotRequired[RunningYear]
    ownership: NotRequired[StoredOwnership]
    per_buyer: list[BuyerRead]
    assumed: list[AssumedRead]
    sentence: str


def rollup_serialized(rollup: StoredRollup, names: Names) -> RollupRead:
    titles = {one["remedy"]: one["title"] for one in rollup.get("remedies", ())}
    return {
        **rollup,
        "assumed": [
            {**one, "sentence": sentences.assumption(one, titles)}
            for one in rollup.get("assumed", ())
        ],
        "per_buyer": [
            {**one, "name": names.person(one["person_id"])} for one in rollup.get("per_buyer", ())
        ],
        "sentence": sentences.missing(rollup["missing"]),
    }


# --- Consensus -----------------------------------------------------------------------------------


class StatementRead(StoredStatement):
    name: str


class ReportRead(StoredReport):
    name: str


class NotLookedRead(NotLooked):
    name: str


class DoubtRaisedRead(DoubtRaised):
    name: str


class CheckpointRead(CheckpointBelief):
    doubt: DoubtRaisedRead | None
    reports: list[ReportRead]
    could_not_look: list[NotLookedRead]


class RuledOutRead(TypedDict):
    checkpoint: str
    stated_by: list[StatementRead]


class ConsensusRead(ConsensusFigures):
    checkpoints: list[CheckpointRead]
    ruled_out: list[RuledOutRead]
    sentence: str
    sentences: list[str]


def consensus_serialized(consensus: Consensus, names: Names) -> ConsensusRead:
    condition = consensus["condition"]
    return {
        **consensus,
        "checkpoints": [checkpoint_read(one, names) for one in consensus["checkpoints"]],
        "ruled_out": [
            {
                **one,
                "stated_by": [{**by, "name": name_of(by, names)} for by in one["stated_by"]],
            }
            for one in consensus["ruled_out"]
        ],
        "sentence": f"{sentences.condition(condition)} {sentences.structure(condition)}",
        "sentences": [
            *sentences.rests_on(consensus),
            *(sentences.age(age) for age in consensus["ages"] if not age["known"]),
        ],
    }


def checkpoint_read(one: StoredCheckpoint, names: Names) -> CheckpointRead:
    doubt = one["doubt"]
    return {
        **one,
        "doubt": {**doubt, "name": names.person(doubt["person_id"])} if doubt else None,
        "reports": [{**by, "name": name_of(by, names)} for by in one["reports"]],
        "could_not_look": [{**by, "name": name_of(by, names)} for by in one["could_not_look"]],
    }


def name_of(by: StoredStatement, names: Names) -> str:
    """Empty for a seller's answer."""
    return names.person(by["person_id"]) if by["person_id"] else ""


# --- Reasons -------------------------------------------------------------------------------------


class NeighbourRead(Neighbour):
    sentence: str


class DoubtRead(Doubt):
    name: str
    sentence: str


class WalkAwayRead(WalkAway):
    sentence: str


class WantRead(WantMet):
    name: str
    sentence: str


class WantsShareRead(WantsShare):
    name: str


class ReasonsRead(TypedDict):
    place: int | None
    of: int
    missing: list[str]
    stage: str
    stage_reason: str
    strike_off_advised: bool
    advice: list[AdviceRead]
    before_buying: list[JudgedRead]
    compared: list[NeighbourRead]
    doubts: list[DoubtRead]
    walk_away: list[WalkAwayRead]
    wants: list[WantRead]
    wants_met: list[WantsShareRead]
    sentence: str


def reasons_serialized(reasons: Reasons, candidate: Candidate | Boat, names: Names) -> ReasonsRead:
    return {
        **reasons,
        "stage": candidate.stage,
        "stage_reason": candidate.stage_reason,
        "strike_off_advised": bool(reasons["advice"]),
        "advice": [advice_serialized(one, names) for one in reasons["advice"]],
        "before_buying": to_be_judged(reasons.get("before_buying", ())),
        "compared": [
            {**one, "sentence": sentences.compared(one, names)} for one in reasons["compared"]
        ],
        "doubts": [doubt_read(one, names) for one in reasons["doubts"]],
        "walk_away": [
            {**one, "sentence": sentences.walk_away(one)} for one in reasons["walk_away"]
        ],
        "wants": [
            {
                **one,
                "name": names.person(one["person_id"]),
                "sentence": phrases.wanted(one, names),
            }
            for one in reasons["wants"]
        ],
        "wants_met": [
            {**one, "name": names.person(one["person_id"])} for one in reasons["wants_met"]
        ],
        "sentence": sentences.missing(reasons["missing"]),
    }


def doubt_read(one: Doubt, names: Names) -> DoubtRead:
    return {
        **one,
        "name": names.person(one["person_id"]),
        "sentence": sentences.doubt(one, names),
    }
