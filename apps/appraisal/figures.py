"""Numbers as they are stored and shown: money to the whole unit, chances to one in a thousand.

Draws and three-point estimates do not support finer figures.
"""

import math
from collections.abc import Mapping

from apps.appraisal.stored.parts import Amount, Level, Range
from apps.reckoning.rollup import CostRange


def as_amount(amount: float, currency: str) -> Amount:
    return {"amount": f"{_whole(amount)}.00", "currency": currency}


def as_amount_or_none(amount: float, currency: str) -> Amount | None:
    """None for nan: not known."""
    return None if math.isnan(amount) else as_amount(amount, currency)


def _whole(amount: float) -> int:
    return round(amount)  # an int has no negative zero


def estimate(figures: CostRange, currency: str) -> Range:
    """P10, P50, P90 and mean."""
    return {
        "low": f"{_whole(figures.low)}.00",
        "likely": f"{_whole(figures.likely)}.00",
        "high": f"{_whole(figures.high)}.00",
        "mean": f"{_whole(figures.mean)}.00",
        "currency": currency,
    }


LEVELS: Mapping[int, Level] = {0: 0, 1: 1, 2: 2, 3: 3, 4: 4}


def as_level(level: int) -> Level:
    return LEVELS[level]


def chance(probability: float) -> float:
    return round(float(probability), 3)


def number(value: float, digits: int = 2) -> float | None:
    """None for nan."""
    return None if math.isnan(value) else round(float(value), digits)
