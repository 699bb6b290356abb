"""Which looks and questions are worth a row: those of the highest value, and not too many."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Floats

# A value that rounds to zero gets no row.
LEAST_VALUE = 1.0


@dataclass(frozen=True)
class Most:
    """How many rows to give, of all boats together and of each."""

    together: int
    of_each: int


def most_valuable(value: Floats, most: Most) -> Iterator[tuple[int, int]]:
    """Boat and checkpoint of the greatest of (I, J), greatest first; negligible ones left out."""
    found: Counter[int] = Counter()
    for at in np.argsort(-value, axis=None, kind="stable"):
        n, j = divmod(int(at), value.shape[1])
        if value[n, j] < LEAST_VALUE or found.total() == most.together:
            return
        if found[n] < most.of_each:
            found[n] += 1
            yield n, j
