"""How far people agree in their ratings (model.md section 2).

Ratings are (R, U): R raters by U units, nan where a rater did not look. A unit is one checkpoint on
one boat. Krippendorff's alpha is for all raters together, weighted kappa for two; intraclass
correlations and concordance have their own modules.

1 is full agreement, 0 is agreement by chance, below 0 is worse than chance. People can agree and
all be wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.bootstrap import Estimate, Resampling, estimate, quotient, undefined

Metric = Literal["nominal", "ordinal", "interval", "ratio"]
Disagreement = Literal["nominal", "linear", "quadratic"]

# As many as the levels of condition (domain.md).
FEW_LEVELS = 5


@dataclass(frozen=True, slots=True)
class PairAgreement:
    """Two raters on the units that both rated.

    `kappa` by the quadratic weights; `same` the share of units rated the same; `difference` the
    mean of the first's ratings minus the second's. Both are None without a common unit.
    """

    first: int
    second: int
    kappa: Estimate
    same: float | None
    difference: float | None


def ratings_table(*, unit: Ints, rater: Ints, level: ArrayLike, units: int, raters: int) -> Floats:
    """Return ratings (R, U) of N reports, each (N,); a rater's later report replaces an earlier.

    Raises ValueError for an index out of range.
    """
    for name, index, size in (("unit", unit, units), ("rater", rater, raters)):
        if len(index) and not 0 <= index.min() <= index.max() < size:
            raise ValueError(f"{name} must be from 0 to {size - 1}")
    table: Floats = np.full((raters, units), np.nan)
    table[rater, unit] = level
    return table


def krippendorff_alpha(
    ratings: ArrayLike, metric: Metric = "ordinal", resampling: Resampling | None = None
) -> Estimate:
    """Return Krippendorff's alpha of ratings (R, U); units are resampled.

    Units with fewer than two ratings do not count; `units` says how many do. Undefined with fewer
    than two raters, without such a unit, or if all ratings are equal. Takes memory for U times the
    number of different ratings. Source: Krippendorff (2011), Computing Krippendorff's
    Alpha-Reliability.

    Raises ValueError for wrong axes, infinite ratings, and negative ones with the ratio metric.
    """
    table = _checked(ratings)
    values, counts = _tally(table)
    if metric == "ratio" and np.any(values < 0):
        raise ValueError("the ratio metric takes no negative ratings")
    size = counts.sum(axis=0)
    paired = size >= 2
    if not paired.all():
        counts, size = counts[:, paired], size[paired]
    if len(size) == 0:
        return undefined("too_few_raters" if len(table) < 2 else "too_few_units", 0)

    def alpha(weights: Floats) -> Floats:
        # Coincidences within units, (B, V, V); each of a unit's m (m - 1) pairs weighs 1 / (m - 1).
        # The diagonals can stay as they are: their distance is zero.
        shared = counts * (weights / (size - 1))[:, None, :]
        observed = (shared.reshape(-1, len(size)) @ counts.T).reshape(-1, len(values), len(values))
        total = weights @ counts.T
        distance = _squared_distance(metric, values, total)
        by_chance = total[:, :, None] * total[:, None, :]
        within = (observed * distance).sum(axis=(1, 2)) * (total.sum(axis=1) - 1)
        between = (by_chance * distance).sum(axis=(1, 2))
        return 1 - quotient(within, between, between > 0)

    return estimate(alpha, len(size), resampling)


def alpha_by_area(
    ratings: ArrayLike,
    area: Ints,
    metric: Metric = "ordinal",
    resampling: Resampling | None = None,
) -> dict[int, Estimate]:
    """Return alpha for each area that occurs in `area` (U,).

    Raises ValueError if `area` does not fit the ratings, and as `krippendorff_alpha` does.
    """
    table = _checked(ratings)
    if area.shape != table.shape[1:]:
        raise ValueError(f"area must have shape {table.shape[1:]}, got {area.shape}")
    return {
        int(one): krippendorff_alpha(table[:, area == one], metric, resampling)
        for one in np.unique(area)
    }


def weighted_kappa(
    first: ArrayLike,
    second: ArrayLike,
    labels: ArrayLike,
    disagreement: Disagreement = "quadratic",
    resampling: Resampling | None = None,
) -> Estimate:
    """Return weighted kappa of two raters, ratings (U,) each, nan for missing; units resampled.

    `labels` (L,) are all possible ratings in order, used or not: without a label that neither
    rater used, its neighbours would be adjacent and the linear and quadratic weights would change.
    Undefined without a unit rated by both, or where chance could not disagree.

    Raises ValueError if the shapes differ or a rating is not among the labels.
    """
    one, other = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if one.ndim != 1 or one.shape != other.shape:
        raise ValueError(f"both must have the same shape (units,), got {one.shape}, {other.shape}")
    names = np.asarray(labels, dtype=np.float64)
    both = ~(np.isnan(one) | np.isnan(other))
    units = int(both.sum())
    if units == 0:
        return undefined("too_few_units", 0)
    cell = _places(one[both], names) * len(names) + _places(other[both], names)
    in_cell = (cell[:, None] == np.arange(len(names) ** 2)).astype(np.float64)
    scale = disagreement_weights(disagreement, len(names))

    def kappa(weights: Floats) -> Floats:
        tables = (weights @ in_cell).reshape(-1, len(names), len(names))
        return kappa_of_tables(tables, scale)

    return estimate(kappa, units, resampling)


def disagreement_weights(kind: Disagreement, labels: int) -> Floats:
    """Return (L, L) weights of disagreement, 0 on the diagonal: 1, distance or its square."""
    apart = np.abs(np.subtract.outer(np.arange(labels), np.arange(labels))).astype(np.float64)
    return {"nominal": np.sign(apart), "linear": apart, "quadratic": apart**2}[kind]


def kappa_of_tables(tables: ArrayLike, weights: ArrayLike) -> Floats:
    """Return weighted kappa of tables (..., L, L) with disagreement weights (L, L), shape (...).

    `weights[i, j]` belongs to the first rater's i and the second's j, and need not be symmetric.
    nan where chance could not disagree. Source: Cohen (1968), Psychological Bulletin 70, 213-220.
    """
    table, weight = np.asarray(tables, dtype=np.float64), np.asarray(weights, dtype=np.float64)
    total = table.sum(axis=(-2, -1))
    by_chance = table.sum(axis=-1)[..., :, None] * table.sum(axis=-2)[..., None, :]
    observed = (table * weight).sum(axis=(-2, -1)) * total
    expected = (by_chance * weight).sum(axis=(-2, -1))
    return 1 - quotient(observed, expected, expected > 0)


def pair_agreements(
    ratings: ArrayLike, labels: ArrayLike, resampling: Resampling | None = None
) -> tuple[PairAgreement, ...]:
    """Return every pair of raters (r, s), r < s, of ratings (R, U).

    Raises ValueError as `weighted_kappa` does.
    """
    table = _checked(ratings)
    return tuple(
        _pair(table, first, second, labels, resampling)
        for first, second in combinations(range(len(table)), 2)
    )


def _pair(
    table: Floats, first: int, second: int, labels: ArrayLike, resampling: Resampling | None
) -> PairAgreement:
    difference = table[first] - table[second]
    difference = difference[~np.isnan(difference)]
    return PairAgreement(
        first=first,
        second=second,
        kappa=weighted_kappa(table[first], table[second], labels, resampling=resampling),
        same=float((difference == 0).mean()) if len(difference) else None,
        difference=float(difference.mean()) if len(difference) else None,
    )


def _checked(ratings: ArrayLike) -> Floats:
    table = np.asarray(ratings, dtype=np.float64)
    if table.ndim != 2:
        raise ValueError(f"ratings must have shape (raters, units), got {table.shape}")
    if np.isinf(table).any():
        raise ValueError("ratings must be finite, or nan where there is none")
    return table


def _tally(table: Floats) -> tuple[Floats, Floats]:
    """Return the different ratings (V,), ascending, and how often each unit got them (V, U)."""
    # Most ratings are levels, few whole numbers. Counting those first, and checking that no other
    # is
    # left, takes half the time of finding all distinct values.
    lowest = np.fmin.reduce(table, axis=None, initial=np.inf)
    values = lowest + np.arange(FEW_LEVELS) if np.isfinite(lowest) else np.empty(0)
    counts = _counts(table, values)
    if counts.sum() != np.count_nonzero(table == table):  # nan differs from itself
        values = np.unique(table)
        values = values[~np.isnan(values)]
        counts = _counts(table, values)
    used = counts.any(axis=1)
    return values[used], counts[used]


def _counts(table: Floats, values: Floats) -> Floats:
    narrow = np.min_scalar_type(len(table))  # the sum over raters is fastest in few bytes
    counts = np.empty((len(values), table.shape[1]))
    for row, value in zip(counts, values, strict=True):
        row[:] = np.add.reduce(table == value, axis=0, dtype=narrow)
    return counts


def _places(ratings: Floats, labels: Floats) -> Ints:
    """Return the index of each rating among the labels."""
    matches = ratings[:, None] == labels
    known = matches.any(axis=1)
    if not known.all():
        raise ValueError(f"rating {ratings[~known][0]:g} is not among the labels")
    places: Ints = matches.argmax(axis=1)
    return places


def _squared_distance(metric: Metric, values: Floats, total: Floats) -> Floats:
    """Return (B or 1, V, V): Krippendorff's squared difference of each two values."""
    if metric == "nominal":
        return 1.0 - np.eye(len(values))[None]
    if metric == "ordinal":
        # The distance is the number of ratings between two values, with half of their own: the
        # difference of their mean ranks.
        place = np.cumsum(total, axis=1) - total / 2
        return np.square(place[:, :, None] - place[:, None, :])
    apart = values[:, None] - values
    if metric == "interval":
        return np.square(apart)[None]
    both = values[:, None] + values
    return np.square(np.divide(apart, both, out=np.zeros_like(apart), where=both != 0))[None]
