"""The one place that reads stored results.

They outlive the version of the service that stored them: after an upgrade they are worked out anew
one list after the other, and until then people read the old ones. So nobody takes a key out of a
stored value that was not read here. Whatever a computation adds, takes away or renames is said in
the shapes beside this file; a test holds what is stored today to them, to the letter.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from apps.appraisal.figures import Json
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.stored.candidates import Consensus, Explanation, Rollup
from apps.appraisal.stored.looks import CostLooks, Inspectors, NextLooks
from apps.appraisal.stored.parts import OpinionsUsed
from apps.appraisal.stored.standing import Reasons, Standing
from apps.exchange.shapes import found


class State(StrEnum):
    WHOLE = "whole"
    PARTLY = "partly"  # something that cannot be read was left out
    UNREADABLE = "unreadable"  # there is something, and it cannot be read


@dataclass(frozen=True)
class Read:
    """One stored value; empty where nothing was worked out yet, or none of it can be read."""

    value: Json = field(default_factory=dict)
    state: State = State.WHOLE


SHAPES: Mapping[str, Any] = {
    "standing": Standing,
    "next_looks": NextLooks,
    "inspectors": Inspectors,
    "cost_looks": CostLooks,
    "rests_on": OpinionsUsed,
    "rollup": Rollup,
    "consensus": Consensus,
    "reasons": Reasons,
    "explanation": Explanation,
}


def read(row: ListAppraisal | CandidateAppraisal | None, kind: str) -> Read:
    """What a row holds of this kind: the name of its field."""
    return value_read(getattr(row, kind) if row else {}, kind)


def value_read(stored: object, kind: str) -> Read:
    """The same of a value that was fetched without its row."""
    if not stored:
        return Read()
    reading = found(SHAPES[kind], stored)
    if reading.value is None:
        return Read(state=State.UNREADABLE)
    told_together(reading.value, kind)
    return Read(reading.value, State.PARTLY if reading.left_out else State.WHOLE)


def told_together(value: Json, kind: str) -> None:
    if kind == "standing":
        for row in (*value["rows"], *value["struck_off"]):
            together(row, "upfront", "later")
            together(row, "all_in", "within_pot")
            together(row["condition"], "score", "low", "high")
    elif kind == "consensus":
        together(value["condition"], "score", "low", "high")


def together(figures: Json, *names: str) -> None:
    """Of figures that only say something together show all or none."""
    if any(figures[name] is None for name in names):
        figures.update(dict.fromkeys(names))
