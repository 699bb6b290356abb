"""Shapes of a list's order, and of the reasons for each boat's place."""

from typing import Literal, NotRequired, TypedDict

from apps.appraisal.stored.parts import (
    Advice,
    Amount,
    Level,
    OpinionsUsed,
    OutcomesUsed,
    Priors,
    Range,
    StoredCondition,
    StoredToBeJudged,
    StoredWanted,
)
from apps.common.shapes import Id, Lines, Moment


class StandingRow(TypedDict):
    candidate_id: Id
    place: int | None
    upfront: Range | None
    later: Range | None
    all_in: Range | None
    within_budget: float | None
    condition: StoredCondition
    missing: list[str]
    valuation_missing: bool
    valuation: Amount | None
    surplus: Amount | None
    utility: Amount | None
    opinions_hidden: NotRequired[bool]
    open_doubts: int


class StoredRow(StandingRow):
    advice: list[Advice]
    before_buying: NotRequired[list[StoredToBeJudged]]


class Ranked(TypedDict):
    candidate_id: Id
    place: int


class Furthest(TypedDict):
    candidate_id: Id
    places: float


class StoredMember(TypedDict):
    person_id: Id
    share: float
    source: Literal["ballot", "valuations"]
    places: list[Ranked]
    hidden: NotRequired[bool]
    distance: float | None
    furthest: list[Furthest]


class Apart(TypedDict):
    board: Id
    votes: Id


class HiddenVotes(TypedDict):
    hidden: Literal[True]
    weights: Literal["share", "head"]


class Votes(TypedDict):
    hidden: NotRequired[Literal[False]]
    weights: Literal["share", "head"]
    schulze: list[Ranked]
    borda: list[Ranked]
    kemeny: list[Ranked] | None
    preferred_to_all: Id | None
    methods_agree: bool
    contested: list[tuple[Id, Id]]
    concordance: float | None
    differs_from_board: list[Apart]


class StoredStanding(TypedDict):
    rests_on: OpinionsUsed | None
    currency: str
    budget: Amount
    required_confidence: float
    rows: list[StoredRow]
    struck_off: list[StoredRow]
    members: Lines[StoredMember]
    votes: Votes | HiddenVotes | None
    priors: Priors | None
    club_outcomes: OutcomesUsed | None
    converged: bool | None


# --- Reasons -------------------------------------------------------------------------------------


class Neighbour(TypedDict):
    candidate_id: Id
    ahead: bool
    level: NotRequired[bool]
    apart: Amount | None
    against: Amount | None


class Doubt(TypedDict):
    checkpoint: str
    title: str
    concerns: list[str]
    mean: float
    level: Level
    person_id: Id
    submission_id: Id
    seen_at: Moment
    judged_by: str
    receipt: NotRequired[bool]


class WalkAway(TypedDict):
    checkpoint: str
    title: str
    level: Level
    probability: float
    looked: bool
    judged_by: str


class WantMet(StoredWanted):
    must: bool
    weight: int
    met: bool | None


class WantsShare(TypedDict):
    person_id: Id
    share: float | None


class Stands(TypedDict):
    """The part of the reasons that may depend on hidden opinions."""

    place: int | None
    of: int
    advice: list[Advice]
    compared: Lines[Neighbour]


class Reasons(Stands):
    before_buying: NotRequired[list[StoredToBeJudged]]
    doubts: list[Doubt]
    walk_away: list[WalkAway]
    wants: Lines[WantMet]
    wants_met: Lines[WantsShare]
    missing: list[str]
