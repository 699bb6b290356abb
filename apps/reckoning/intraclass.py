"""The six intraclass correlations of Shrout and Fleiss (model.md section 2)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Floats
from apps.reckoning.bootstrap import Estimate, Reason, Resampling, estimates, quotient, undefined

# Mean squares below this part of the largest are rounding error of a table without variation.
NO_VARIATION = 1e-12


@dataclass(frozen=True, slots=True)
class IntraclassCorrelations:
    """ICC(1,1), (2,1), (3,1) of a single rater; ICC(1,k), (2,k), (3,k) of the mean of all k.

    Form 1: each unit has raters of its own. Form 2: the raters are a sample, and agreement in
    level counts. Form 3: these raters are the only ones, and only agreement in order and distance
    counts.
    """

    icc_1_1: Estimate
    icc_2_1: Estimate
    icc_3_1: Estimate
    icc_1_k: Estimate
    icc_2_k: Estimate
    icc_3_k: Estimate


def intraclass_correlations(
    ratings: ArrayLike, resampling: Resampling | None = None
) -> IntraclassCorrelations:
    """Return the six coefficients of ratings (R, U), R raters by U units, nan for missing.

    Only units that every rater rated count; `units` says how many. Undefined with fewer than two
    raters or such units, or where they do not vary. Source: Shrout & Fleiss (1979), Psychological
    Bulletin 86, 420-428, with its mean squares between units (BMS), within units (WMS), between
    raters (JMS) and residual (EMS).

    Raises ValueError for another number of axes than two.
    """
    table = np.asarray(ratings, dtype=np.float64)
    if table.ndim != 2:
        raise ValueError(f"ratings must have shape (raters, units), got {table.shape}")
    table = table[:, ~np.isnan(table).any(axis=0)]
    raters, units = table.shape
    if raters < 2 or units < 2:
        reason: Reason = "too_few_raters" if raters < 2 else "too_few_units"
        return IntraclassCorrelations(*[undefined(reason, units)] * 6)

    table = table - table.mean()  # keeps the sums of squares accurate
    unit_mean = table.mean(axis=0)
    within_unit = ((table - unit_mean) ** 2).sum(axis=0)

    def correlations(weights: Floats) -> Floats:
        n, k = units, raters  # a resample has as many units as the table
        grand = weights @ unit_mean / n
        bms = k * (weights * (unit_mean - grand[:, None]) ** 2).sum(axis=1) / (n - 1)
        wms = weights @ within_unit / (n * (k - 1))
        rater_mean = weights @ table.T / n
        jms = n * ((rater_mean - grand[:, None]) ** 2).sum(axis=1) / (k - 1)
        ems = (n * wms - jms) / (n - 1)
        excess = (jms - ems) / n
        above = np.stack([bms - wms, bms - ems, bms - ems] * 2, axis=1)
        below = np.stack(
            [
                bms + (k - 1) * wms,
                bms + (k - 1) * ems + k * excess,
                bms + (k - 1) * ems,
                bms,
                bms + excess,
                bms,
            ],
            axis=1,
        )
        largest = np.maximum(np.maximum(bms, wms), jms)[:, None]
        return quotient(above, below, np.abs(below) > NO_VARIATION * largest)

    return IntraclassCorrelations(*estimates(correlations, units, resampling))
