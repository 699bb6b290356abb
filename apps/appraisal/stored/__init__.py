"""The one place that reads stored results.

They outlive the version of the service that stored them: after an upgrade they are worked out anew
one list after the other, and until then people read the old ones. So nobody takes a key out of a
stored value that was not read here. Whatever a computation adds, takes away or renames is said in
the shapes beside this file; a test holds what is stored today to them, to the letter.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Generic, TypeVar

from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.stored.candidates import Consensus, Explanation, Rollup
from apps.appraisal.stored.looks import CostLooks, NextLooks, Raters
from apps.appraisal.stored.parts import OpinionsUsed
from apps.appraisal.stored.renamed import under_new_names
from apps.appraisal.stored.standing import Reasons, Standing
from apps.common.shapes import found


class State(StrEnum):
    WHOLE = "whole"
    PARTLY = "partly"  # something that cannot be read was left out
    UNREADABLE = "unreadable"  # there is something, and it cannot be read


T = TypeVar("T")


@dataclass(frozen=True)
class Read(Generic[T]):
    """One stored value; None where nothing was worked out yet, or none of it can be read."""

    value: T | None = None
    state: State = State.WHOLE


@dataclass(frozen=True)
class Kind(Generic[T]):
    """What is stored under this name of a field, and its shape."""

    field: str
    shape: type[T]


STANDING = Kind("standing", Standing)
NEXT_LOOKS = Kind("next_looks", NextLooks)
RATERS = Kind("raters", Raters)
COST_LOOKS = Kind("cost_looks", CostLooks)
RESTS_ON = Kind("rests_on", OpinionsUsed)
ROLLUP = Kind("rollup", Rollup)
CONSENSUS = Kind("consensus", Consensus)
REASONS = Kind("reasons", Reasons)
EXPLANATION = Kind("explanation", Explanation)

_KINDS: tuple[Kind[Any], ...] = (
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
KINDS: Mapping[str, Kind[Any]] = {kind.field: kind for kind in _KINDS}


def read(row: ListAppraisal | CandidateAppraisal | None, kind: Kind[T]) -> Read[T]:
    """What a row holds of this kind."""
    return value_read(getattr(row, kind.field) if row else None, kind)


def value_read(stored: object, kind: Kind[T]) -> Read[T]:
    """The same of a value that was fetched without its row."""
    if not stored:
        return Read()
    reading = found(kind.shape, under_new_names(stored, kind.field))
    if reading.value is None:
        return Read(state=State.UNREADABLE)
    keep_together(reading.value, kind.field)
    return Read(reading.value, State.PARTLY if reading.left_out else State.WHOLE)


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
    """Of figures that only say something together show all or none."""
    if any(figures[name] is None for name in names):
        figures.update(dict.fromkeys(names))
