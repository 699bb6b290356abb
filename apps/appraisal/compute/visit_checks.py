"""How long the checks of a visit take, and which of them are only a guess in its conditions."""

from collections import Counter
from collections.abc import Collection, Sequence

import numpy as np

from apps.appraisal.stored.looks import Hampered
from apps.catalogue.applicability import hampered, prevented
from apps.catalogue.content import CheckpointEntry
from apps.reckoning.arrays import Bools

LIES = ("ashore", "afloat")  # conditions that exclude one another


def minutes_of(checkpoints: Sequence[CheckpointEntry], possible: Bools) -> int:
    """Time of the checks ashore or afloat, whichever is longer: she cannot be both."""
    checks = [c for c, may in zip(checkpoints, possible, strict=True) if may]
    return max(sum(c.minutes for c in checks if not prevented(c, {lies})) for lies in LIES)


def are_hampered(checkpoints: Sequence[CheckpointEntry], hindrances: Collection[str]) -> Bools:
    """(J,): whether a look at it is no better than a guess."""
    return np.array([bool(hampered(checkpoint, hindrances)) for checkpoint in checkpoints])


def hampered_on(
    checkpoints: Sequence[CheckpointEntry], possible: Bools, hindrances: Collection[str]
) -> list[Hampered]:
    """The conditions that make checks a guess, with how many checks, the worst first."""
    checks = [c for c, may in zip(checkpoints, possible, strict=True) if may]
    found = Counter(reason for c in checks for reason in hampered(c, hindrances))
    return [{"reason": reason, "checks": count} for reason, count in found.most_common()]
