"""Shapes that several stored results share."""

from typing import Literal, NotRequired, TypedDict

from apps.common.shapes import DecimalText, Id, Moment

WantedValue = float | str | list[str] | None
WantTest = Literal["", "at_most", "at_least", "one_of"]
Level = Literal[0, 1, 2, 3, 4]


class Amount(TypedDict):
    amount: DecimalText
    currency: str


class Range(TypedDict):
    low: DecimalText
    likely: DecimalText
    high: DecimalText
    mean: DecimalText
    currency: str


class OpinionsUsed(TypedDict):
    valuations: list[Id]
    ballots: bool


class WorstStructural(TypedDict):
    level: Level
    checkpoint: str
    title: str


class StoredCondition(TypedDict):
    score: float | None
    low: float | None
    high: float | None
    uncorrected: float | None
    coverage: float | None
    worst_structural: NotRequired[WorstStructural | None]


Priors = TypedDict(
    "Priors",
    {
        "from": Literal["catalogue", "club"],
        "groups": int,
        "boats": int,
        "computed_at": Moment | None,
    },
)


class OutcomesUsed(TypedDict):
    groups: int
    boats: int
    computed_at: Moment
    checkpoints: list[str]
    remedies: list[str]


class StoredWanted(TypedDict):
    want_id: Id
    person_id: Id
    subject: str
    key: str
    test: WantTest
    wanted: WantedValue
    text: str


# --- Reasons to strike off -----------------------------------------------------------------------

MustBroken = TypedDict(
    "MustBroken",
    {
        "code": Literal["must_broken"],
        "want_id": Id,
        "person_id": Id,
        "subject": str,
        "key": str,
        "test": WantTest,
        "wanted": WantedValue,
        "text": str,
        "is": float | None,
    },
)


class StoredWalkAwayFinding(TypedDict):
    code: Literal["walk_away_finding"]
    checkpoint: str
    title: str
    judged_by: str
    level: Level
    probability: float


class StoredOpenDoubt(TypedDict):
    code: Literal["open_doubt"]
    checkpoint: str
    title: str
    judged_by: str
    level: Level
    probability: NotRequired[float]
    seen_by: NotRequired[int]


class StoredOverBudget(TypedDict):
    code: Literal["over_budget"]
    within_budget: float
    least: float


class StoredCostsMore(TypedDict):
    code: Literal["costs_more"]
    probability: float
    best: NotRequired[float]
    overrun_counts: float


class StoredDominated(TypedDict):
    code: Literal["dominated"]
    by: Id
    probability: NotRequired[float]
    also: NotRequired[list[Id]]


class StoredToBeJudged(TypedDict):
    code: Literal["to_be_judged"]
    checkpoint: str
    title: str
    judged_by: str
    level: Level
    probability: float | None
    seen_by: int
    seen_otherwise: int
    judged: bool


Advice = (
    MustBroken
    | StoredWalkAwayFinding
    | StoredOpenDoubt
    | StoredOverBudget
    | StoredCostsMore
    | StoredDominated
)
