"""Shapes of next looks, cost looks and raters."""

from typing import Literal, NotRequired, TypedDict

from apps.appraisal.stored.parts import Amount, OpinionsUsed
from apps.common.shapes import Entries, Id, Lines


class AnyCheck(TypedDict):
    candidate_id: Id
    checkpoint: str
    title: str
    area: str
    look: str
    cautions: list[str]
    person_id: Id | None
    looked_before: bool


class Check(AnyCheck):
    value: Amount
    at_most: Amount


class Hampered(TypedDict):
    reason: str
    checks: int


VisitKind = Literal["as_before", "nothing_in_the_way", "as_asked", "sea_trial"]


class AnyVisit(TypedDict):
    candidate_id: Id
    kind: VisitKind
    hindrances: list[str]
    checks: int
    minutes: int | None
    hampered: Lines[Hampered]
    fee: NotRequired[Amount | None]


class StoredVisit(AnyVisit):
    value: Amount


class StoredSurvey(TypedDict):
    candidate_id: Id
    value: Amount
    for_choice: NotRequired[Amount]
    money_off: NotRequired[Amount]
    money_off_chance: NotRequired[float]
    fee: Amount
    not_bought: NotRequired[float]
    cost_now: NotRequired[Amount]
    changes_first: NotRequired[float]
    pays_now: bool
    change_needed: Amount | None


Year = Literal["engine_year", "rigging_year", "sails_year", "build_year"]


class YearQuestion(TypedDict):
    candidate_id: Id
    kind: Literal["year"]
    subject: Year
    title: str
    ask: NotRequired[str]
    value: Amount | None


class NotSeenQuestion(TypedDict):
    candidate_id: Id
    kind: Literal["not_seen"]
    subject: str
    title: str
    ask: NotRequired[str]
    value: Amount | None


class PriceQuestion(TypedDict):
    candidate_id: Id
    kind: Literal["price"]
    subject: str
    title: str
    ask: NotRequired[str]
    price: Amount
    value: Amount | None


Question = YearQuestion | NotSeenQuestion | PriceQuestion


WhyLeftOut = Literal["not_priced", "valuation_missing", "valuation_hidden"]


class LeftOut(TypedDict):
    candidate_id: Id
    why: WhyLeftOut


class LooksValued(TypedDict):
    currency: str
    value: Amount | None
    ceiling: Amount | None
    checks: Lines[Check]
    visits: Lines[StoredVisit]
    surveys: list[StoredSurvey]
    questions: Lines[Question]


class NextLooks(LooksValued):
    rests_on: OpinionsUsed | None
    left_out: Lines[LeftOut]


# --- Moves of costs by looks ---------------------------------------------------------------------


class CheckOfCosts(AnyCheck):
    moves: Amount


class VisitOfCosts(AnyVisit):
    moves: Amount


class YearOfCosts(TypedDict):
    candidate_id: Id
    kind: Literal["year"]
    subject: Year
    title: str
    ask: NotRequired[str]
    moves: Amount


class NotSeenOfCosts(TypedDict):
    candidate_id: Id
    kind: Literal["not_seen"]
    subject: str
    title: str
    ask: NotRequired[str]
    moves: Amount


AnyQuestion = YearQuestion | NotSeenQuestion | PriceQuestion | YearOfCosts | NotSeenOfCosts


class CostLooks(TypedDict):
    checks: Lines[CheckOfCosts]
    visits: Lines[VisitOfCosts]
    questions: Lines[YearOfCosts | NotSeenOfCosts]
    by_check: Entries[dict[str, int]]


# --- Raters ----------------------------------------------------------------------------------


class Tendency(TypedDict):
    mean: float
    low: float
    high: float


class AreaTendency(TypedDict):
    area: str
    title: str
    findings: int
    gap: float
    standard_error: float | None


class Who(TypedDict):
    kind: Literal["member", "professional"]
    person_id: Id
    profession: str


class Rater(Who):
    findings: int
    lean: Tendency
    spread: Tendency
    by_area: Lines[AreaTendency]


class Coefficient(TypedDict):
    value: float | None
    low: float | None
    high: float | None
    units: int
    reason: str | None


class AreaAgreement(Coefficient):
    area: str
    title: str


class Pair(TypedDict):
    first: Who
    second: Who
    common: int
    kappa: Coefficient
    same: float | None
    difference: float | None


class Agreement(TypedDict):
    list: Coefficient
    by_area: Lines[AreaAgreement]
    pairs: Lines[Pair]


class Raters(TypedDict):
    raters: Lines[Rater]
    agreement: NotRequired[Agreement | None]
