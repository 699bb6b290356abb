"""Places by figures that drawing leaves a noise in (model.md section 4).

A gap counts only where it is beyond the noise: candidates within it are level and share a place.
"""

import numpy as np

from apps.reckoning.arrays import Floats

# A gap of so many standard errors is more than drawing brings about: 1 in 740 for a normal one.
STANDARD_ERRORS = 3.0
# Money is shown to the unit: less than one is no gap, however exact.
MONEY_UNIT = 1.0


def noise_of(error: Floats, other: Floats | float, unit: float = MONEY_UNIT) -> Floats:
    """The widest gap between two figures that does not count, given their standard errors.

    Draws that the two have in common only make it narrower. Arguments broadcast; nan is no error.
    """
    both = np.hypot(np.nan_to_num(error), np.nan_to_num(other))
    return np.maximum(STANDARD_ERRORS * both, unit)


def places(figure: Floats, error: Floats, unit: float = MONEY_UNIT) -> Floats:
    """Places (I,) by a figure (I,) of which more is better, given standard errors (I,).

    1 is best, and the level share a place; nan where the figure is nan. From the best down, each
    candidate shares the place of the one that began it as long as the gap to that one does not
    count, else it begins a place of its own. So nobody drifts down a chain of small gaps, and
    places do not hang on the order in which candidates are given.
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
