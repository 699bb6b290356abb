"""What takes longer than the board: next looks, how the inspectors see, and what would change.

Worked out after the board of the same revision, so that nobody waits for it who only wants that.
"""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from apps.appraisal.computing import Computed
from apps.appraisal.deciding import deciding_of
from apps.appraisal.explanations import explanations_of
from apps.appraisal.figures import Json
from apps.appraisal.inspectors import inspectors_of
from apps.appraisal.next_looks import next_looks_of


@dataclass(frozen=True)
class Looks:
    next_looks: Json = field(default_factory=dict)
    inspectors: Json = field(default_factory=dict)
    explanations: Mapping[uuid.UUID, Json] = field(default_factory=dict)


def looks_of(computed: Computed, pulse: Callable[[], None]) -> Looks:
    deciding = deciding_of(computed, pulse)
    explanations = explanations_of(computed, deciding, pulse)
    return Looks(
        next_looks=next_looks_of(computed, deciding, explanations, pulse),
        inspectors=inspectors_of(computed),
        explanations=explanations,
    )
