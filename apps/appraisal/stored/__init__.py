"""The only place that reads stored results.

Stored results outlive the version of the service that stored them: after an upgrade they are
recomputed list by list, and until then people read the old ones. So every key of a stored value is
read here first. The shapes beside this file declare whatever a computation adds, removes or
renames; a test compares them exactly with what is stored today.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Generic, TypeVar

from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.stored.candidates import Consensus, Explanation, StoredRollup
from apps.appraisal.stored.looks import CostLooks, NextLooks, Raters
from apps.appraisal.stored.parts import OpinionsUsed
from apps.appraisal.stored.standing import Reasons, StoredStanding
from apps.common.shapes import found


class Readability(StrEnum):
    WHOLE = "whole"
    PARTLY = "partly"  # parts that cannot be read were left out
    UNREADABLE = "unreadable"  # a value is stored, but it cannot be read


T = TypeVar("T")


@dataclass(frozen=True)
class StoredValue(Generic[T]):
    """One stored value; None if nothing is computed yet, or none of it can be read."""

    value: T | None = None
    state: Readability = Readability.WHOLE


@dataclass(frozen=True)
class StoredKind(Generic[T]):
    """The name of a stored field, and the shape of its value."""

    field: str
    shape: type[T]


STANDING = StoredKind("standing", StoredStanding)
NEXT_LOOKS = StoredKind("next_looks", NextLooks)
RATERS = StoredKind("raters", Raters)
COST_LOOKS = StoredKind("cost_looks", CostLooks)
RESTS_ON = StoredKind("rests_on", OpinionsUsed)
ROLLUP = StoredKind("rollup", StoredRollup)
CONSENSUS = StoredKind("consensus", Consensus)
REASONS = StoredKind("reasons", Reasons)
EXPLANATION = StoredKind("explanation", Explanation)

_KINDS: tuple[StoredKind[Any], ...] = (
    STANDING,
    NEXT_LOOKS,
    RATERS,
    COST_LOOKS,
    RESTS_ON,
    ROLLUP,
    CONSENSUS,
    REASONS,
    EXPLANATION,
)
KINDS: Mapping[str, StoredKind[Any]] = {kind.field: kind for kind in _KINDS}


def read(row: ListAppraisal | CandidateAppraisal | None, kind: StoredKind[T]) -> StoredValue[T]:
    """The row's value of this kind."""
    return value_read(getattr(row, kind.field) if row else None, kind)


def value_read(stored: object, kind: StoredKind[T]) -> StoredValue[T]:
    """The value of this kind that was fetched without its row."""
    if not stored:
        return StoredValue()
    reading = found(kind.shape, stored)
    if reading.value is None:
        return StoredValue(state=Readability.UNREADABLE)
    keep_together(reading.value, kind.field)
    return StoredValue(reading.value, Readability.PARTLY if reading.left_out else Readability.WHOLE)


def keep_together(value: Any, kind: str) -> None:
    if kind == "standing":
        for row in (*value["rows"], *value["struck_off"]):
            together(row, "upfront", "later")
            together(row, "all_in", "within_budget")
            if row["within_budget"] is None:
                row.update(upfront=None, later=None)
            together(row["condition"], "score", "low", "high")
    elif kind == "consensus":
        together(value["condition"], "score", "low", "high")


def together(figures: Any, *names: str) -> None:
    """Set all these figures to None if one is missing: one alone would mislead."""
    if any(figures[name] is None for name in names):
        figures.update(dict.fromkeys(names))
