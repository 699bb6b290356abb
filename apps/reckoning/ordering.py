"""Places by figures that have a drawing error (model.md section 4).

A gap counts only if it exceeds the error: candidates within it are level and share a place.
"""

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Floats, Ints

# Drawing exceeds this many standard errors only 1 time in 740, if the error is normal.
STANDARD_ERRORS = 3.0
# Money is shown to the unit: a smaller difference is no gap, however exact.
MONEY_UNIT = 1.0


def noise_of(error: Floats, other: Floats | float, unit: float = MONEY_UNIT) -> Floats:
    """The widest gap between two figures that does not count, given their standard errors.

    Draws that the two have in common only make it narrower. Arguments broadcast; nan: no error.
    """
    both = np.hypot(np.nan_to_num(error), np.nan_to_num(other))
    return np.maximum(STANDARD_ERRORS * both, unit)


def places(figure: Floats, error: Floats, unit: float = MONEY_UNIT) -> Floats:
    """Places (I,) by a figure (I,) of which more is better, given standard errors (I,).

    1 is best, and level candidates share a place; nan where the figure is nan. From the best down,
    each candidate shares the place of the one that began it as long as the gap to that one does
    not count; otherwise it begins a new place. So a chain of small gaps makes no long place, and
    places do not depend on the order in which candidates are given.
    """
    place = np.full(len(figure), np.nan)
    known = np.flatnonzero(~np.isnan(figure))
    ordered = known[np.lexsort((error[known], -figure[known]))]
    best = ordered[0] if len(ordered) else 0
    for n, i in enumerate(ordered, start=1):
        with np.errstate(invalid="ignore"):  # one -inf beside another: no gap
            counts = figure[best] - figure[i] > noise_of(error[best], error[i], unit)
        best = i if counts or n == 1 else best
        place[i] = n if best == i else place[best]
    return place


def shared_ranks(values: ArrayLike) -> Floats:
    """Ranks of values (N,) from 1 for the lowest; equal ones share the middle of their ranks."""
    below, up_to = _counts(np.asarray(values))
    return np.asarray((below + 1 + up_to) / 2)


def least_ranks(values: ArrayLike) -> Ints:
    """Ranks of values (N,) from 1 for the lowest; equal ones share the least of their ranks."""
    below, _ = _counts(np.asarray(values))
    return below + 1


def _counts(values: Floats) -> tuple[Ints, Ints]:
    """For each value how many are below it, and how many are not above it."""
    ordered = np.sort(values)
    return (
        np.searchsorted(ordered, values, side="left"),
        np.searchsorted(ordered, values, side="right"),
    )
