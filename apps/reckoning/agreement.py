"""How far people agree: coefficients of agreement and concordance (model.md section 2)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import rankdata


def kendall_w(ranks: ArrayLike) -> float | None:
    """Return Kendall's coefficient of concordance W of m orders of n things, shape (m, n).

    0 no agreement, 1 the same order by all. Values are ranked within each row, so ranks and scores
    both do; ties take the mean rank and are corrected for. Source: Kendall & Babington Smith
    (1939), Annals of Mathematical Statistics 10, 275-287; ties: Kendall, Rank Correlation Methods.

    None with fewer than two orders or things, or where every order ties everything.
    Raises ValueError for nan or for another number of axes than two.
    """
    scores = np.asarray(ranks, dtype=np.float64)
    if scores.ndim != 2:
        raise ValueError(f"ranks must have shape (orders, things), got {scores.shape}")
    if np.isnan(scores).any():
        raise ValueError("ranks must be complete: nan found")
    orders, things = scores.shape
    if orders < 2 or things < 2:
        return None
    placed = rankdata(scores, axis=1)
    total = placed.sum(axis=0)
    # Twelve times the variance sum that full agreement would give, ties taken off.
    untied = 12 * ((placed - (things + 1) / 2) ** 2).sum()
    if untied == 0:
        return None
    spread = ((total - total.mean()) ** 2).sum()
    return float(12 * spread / (orders * untied))
