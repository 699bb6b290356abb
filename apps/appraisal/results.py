"""What is stored of a computation."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from apps.appraisal.computing import Computed

Json = dict[str, Any]


@dataclass(frozen=True)
class CandidateResults:
    rollup: Json = field(default_factory=dict)
    consensus: Json = field(default_factory=dict)
    reasons: Json = field(default_factory=dict)
    explanation: Json = field(default_factory=dict)


@dataclass(frozen=True)
class Results:
    edition: int
    standing: Json = field(default_factory=dict)
    next_looks: Json = field(default_factory=dict)
    inspectors: Json = field(default_factory=dict)
    candidates: Mapping[uuid.UUID, CandidateResults] = field(default_factory=dict)


def results_of(computed: Computed) -> Results:
    return Results(edition=computed.inputs.snapshot.edition)
