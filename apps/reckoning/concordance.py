"""Kendall's coefficient of concordance: how far several orders agree (model.md section 2)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from apps.reckoning.arrays import Floats
from apps.reckoning.bootstrap import Estimate, Resampling, estimate, quotient, undefined


def kendall_w(ranks: ArrayLike, resampling: Resampling | None = None) -> Estimate:
    """Return W of m orders of n things, shape (m, n), ties corrected for; things are resampled.

    0 no agreement, 1 the same order by all. Only the order within a row counts, so ranks and scores
    can both be given. Source: Kendall & Babington Smith (1939), Annals of Mathematical Statistics
    10,
    275-287; ties: Kendall, Rank Correlation Methods.

    Undefined with fewer than two orders or things, or where every order ties everything.
    Raises ValueError for nan or for another number of axes than two.
    """
    scores = np.asarray(ranks, dtype=np.float64)
    if scores.ndim != 2:
        raise ValueError(f"ranks must have shape (orders, things), got {scores.shape}")
    if np.isnan(scores).any():
        raise ValueError("ranks must be complete: nan found")
    orders, things = scores.shape
    if orders < 2:
        return undefined("too_few_raters", things)
    if things < 2:
        return undefined("too_few_units", things)

    # [m, k, i]: what thing k adds to the mean rank of thing i, drawn once.
    below = scores[:, :, None] < scores[:, None, :]
    level = scores[:, :, None] == scores[:, None, :]
    adds = below + level / 2

    def concordance(weights: Floats) -> Floats:
        # Ranks within the resample, minus their mean: a thing drawn twice ties with itself.
        placed = np.matmul(weights, adds) - weights.sum(axis=1, keepdims=True) / 2  # (m, B, n)
        spread = (weights * placed.sum(axis=0) ** 2).sum(axis=1)
        # The spread of the summed ranks if all orders were the same, ties included.
        most = orders * (weights * placed**2).sum(axis=(0, 2))
        return quotient(spread, most, most > 0)

    return estimate(concordance, things, resampling)
