"""Shapes of one candidate's results: cost, consensus, explanation."""

from typing import Literal, NotRequired, TypedDict

from apps.appraisal.stored.offering import StoredOffering
from apps.appraisal.stored.parts import Amount, Level, OutcomesUsed, Priors, Range, StoredCondition
from apps.common.shapes import Id, Lines, Moment

# --- Rollup --------------------------------------------------------------------------------------


class AgeUnknown(TypedDict):
    code: Literal["age_unknown"]
    part: Literal["boat", "engine", "standing_rigging", "sails"]
    years: int


class PriceIndexYear(TypedDict):
    code: Literal["price_index_year"]
    year: int
    carried_to: NotRequired[int]
    rate: NotRequired[float]


class StoredOwnWork(TypedDict):
    code: Literal["own_work_refused", "own_hours_used_up"]
    remedy: str


Assumed = AgeUnknown | PriceIndexYear | StoredOwnWork


class StoredParts(TypedDict):
    price: Amount
    tax: Amount
    purchase_costs: Amount
    enabling: Amount
    now: Amount
    later: Amount
    enabling_later: NotRequired[Amount]
    reserve: Amount


class PurchaseCost(TypedDict):
    code: Literal["survey", "survey_lift_out", "transport", "registration"]
    amount: Amount


class Causes(TypedDict):
    seen: Amount
    disputed: Amount
    not_seen: Amount


class AreaCost(Causes):
    area: str
    title: str
    expected: Amount
    later: NotRequired[Amount]


class Driver(TypedDict):
    remedy: str
    title: str
    expected: Amount
    share_of_doubt: float


class FactorUsed(TypedDict):
    factor: float
    groups: int
    boats: int


class RemedyCost(TypedDict):
    remedy: str
    title: str
    area: str
    probability: float
    expected: Amount
    price: Amount
    counted_by: str
    urgency: Literal["now", "later"]
    done_by: Literal["group", "yard"]
    quoted: bool
    club_outcomes: FactorUsed | None
    confidence: Literal["firm", "fair", "rough"]
    source: str


class EnablingCost(TypedDict):
    enabling: str
    title: str
    probability: float
    expected: Amount


class QuoteUsed(TypedDict):
    quote_id: Id
    remedy: str
    amount: Amount
    firmness: Literal["fixed", "estimate"]
    includes_enabling: bool
    from_whom: str
    dated_on: Moment
    expired: bool


class RunningLine(TypedDict):
    code: str
    title: str
    expected: Amount
    source: str


class YearRange(TypedDict):
    low: Amount
    likely: Amount
    high: Amount
    expected: Amount


class RunningYear(YearRange):
    lines: list[RunningLine]


class OverYears(TypedDict):
    total: Amount
    a_year: Amount


class StoredOwnership(TypedDict):
    years: int
    discount_rate: float
    if_worth_nothing_then: OverYears
    if_sold_for_the_price_paid: OverYears


class BuyerCost(TypedDict):
    person_id: Id
    share: float
    upfront: NotRequired[Amount]
    later: NotRequired[Amount]
    expected: Amount
    high: Amount
    running_year: Amount


class KeepingCosts(TypedDict):
    running_year: NotRequired[RunningYear]
    ownership: NotRequired[StoredOwnership]
    per_buyer: NotRequired[list[BuyerCost]]


class RollupFigures(TypedDict):
    """For a boat that cannot be priced, only `currency` and `missing` are given."""

    currency: str
    missing: list[str]
    upfront: NotRequired[Range]
    later: NotRequired[Range]
    all_in: NotRequired[Range]
    work: NotRequired[Range]
    budget: NotRequired[Amount]
    within_budget: NotRequired[float]
    parts: NotRequired[StoredParts]
    purchase_costs: NotRequired[list[PurchaseCost]]
    by_area: NotRequired[list[AreaCost]]
    by_cause: NotRequired[Causes]
    drivers: NotRequired[list[Driver]]
    remedies: NotRequired[list[RemedyCost]]
    enabling: NotRequired[list[EnablingCost]]
    quotes: NotRequired[list[QuoteUsed]]


class StoredRollup(KeepingCosts, RollupFigures):
    assumed: NotRequired[list[Assumed]]


# --- Consensus -----------------------------------------------------------------------------------

GraderKind = Literal["member", "professional", "meter", "sound", "document", "seller"]
Sureness = Literal["sure", "fairly", "guess"]


class Care(TypedDict):
    cherished: float
    ordinary: float
    neglected: float


class StoredPartAge(TypedDict):
    part: Literal["boat", "engine", "standing_rigging", "sails"]
    years: int
    known: bool


class StoredStatement(TypedDict):
    person_id: Id | None
    submission_id: NotRequired[Id]
    said_by: NotRequired[str]  # of a seller's answer
    seen_at: Moment


class StoredReport(StoredStatement):
    kind: GraderKind
    profession: str
    level: Level
    sureness: Sureness
    differs: bool


class NotLooked(StoredStatement):
    reason: str


class DoubtRaised(TypedDict):
    person_id: Id
    submission_id: Id
    seen_at: Moment
    level: Level
    judged_by: str
    receipt: NotRequired[bool]


class CheckpointBelief(TypedDict):
    checkpoint: str
    title: str
    area: str
    concerns: list[str]
    cause: Literal["seen", "disputed", "not_seen"]
    levels: tuple[float, float, float, float, float]
    mean: float
    interval: tuple[int, int]
    entropy_bits: float
    looks: int
    worst_credible: int | None
    judged_by: str


class StoredCheckpoint(CheckpointBelief):
    doubt: DoubtRaised | None
    reports: list[StoredReport]
    could_not_look: list[NotLooked]


class RuledOut(TypedDict):
    checkpoint: str
    stated_by: list[StoredStatement]


class ConsensusFigures(TypedDict):
    condition: StoredCondition
    care: Care | None
    ages: Lines[StoredPartAge]
    priors: Priors | None
    club_outcomes: OutcomesUsed | None
    converged: bool | None


class Consensus(ConsensusFigures):
    checkpoints: list[StoredCheckpoint]
    ruled_out: Lines[RuledOut]


# --- Explanation ---------------------------------------------------------------------------------


class WorkStep(TypedDict):
    of: Literal["work", "later"]
    area: str
    title: str
    cause: Literal["seen", "disputed", "not_seen"]
    amount: Amount
    total: Amount


class OtherStep(TypedDict):
    of: Literal["asking", "offer", "expected_price", "tax", "purchase_costs", "reserve"]
    area: None
    title: None
    cause: None
    amount: Amount
    total: Amount


class StoredChange(TypedDict):
    subject: str
    title: str
    effect: Literal["passes", "falls_behind", "within_budget", "over_budget"]
    other: Id | None
    against_none: bool
    chance: float | None


class LevelChange(StoredChange):
    fact: Literal["level"]
    now_level: Level
    then_level: Level


class MoneyChange(StoredChange):
    fact: Literal["asking", "quote"]
    now_amount: Amount
    then_amount: Amount


class ExplainedChanges(TypedDict):
    """The part of an explanation that may depend on hidden opinions."""

    changes: Lines[LevelChange | MoneyChange]
    compared: NotRequired[bool]
    offering: NotRequired[StoredOffering | None]


class Explanation(ExplainedChanges):
    waterfall: list[WorkStep | OtherStep]
