"""Shapes of what to offer for a boat, and what to ask the seller."""

from typing import Literal, TypedDict

from apps.appraisal.stored.parts import Amount
from apps.common.shapes import Id, Lines


class StoredLimits(TypedDict):
    """next_best_is: the boat that is next best; None for buying none."""

    within_budget: Amount | None
    at_par: Amount | None
    next_best: Amount | None
    next_best_is: Id | None
    valued: bool


class StoredPlan(TypedDict):
    opening: Amount
    target: Amount
    walk_away: Amount
    out_of_reach: bool
    chance_at_target: float


class PriceAtConfidence(TypedDict):
    confidence: float
    price: Amount | None


class StoredSensitivity(TypedDict):
    more_work: Amount | None
    dearer_yard: Amount | None
    cheaper_yard: Amount | None
    by_confidence: Lines[PriceAtConfidence]


class AmountRange(TypedDict):
    low: Amount
    high: Amount


class StoredAsk(TypedDict):
    """range: a surveyor's, if his estimate is the price that counts."""

    remedy: str
    title: str
    amount: Amount
    quoted: bool
    range: AmountRange | None
    needed: float
    safety: bool
    urgency: Literal["now", "later"]
    professional: bool
    if_put_right: float
    if_taken_off: float


class AsksFigures(TypedDict):
    within: float
    amount: Amount
    if_put_right: float
    if_taken_off: float


class StoredAsks(AsksFigures):
    items: Lines[StoredAsk]


class OfferFigures(TypedDict):
    """price: expected to be paid, or the live offer (`offered`). within: the chance at it."""

    asking: Amount
    price: Amount
    offered: bool
    confidence: float
    within: float
    sensitivity: StoredSensitivity
    limits: StoredLimits
    plan: StoredPlan | None


class StoredOffering(OfferFigures):
    asks: StoredAsks
