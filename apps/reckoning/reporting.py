"""Probability of a report given the true level: with lean and spread, or a slip (model.md 1)."""

from typing import Final

import numpy as np

from apps.reckoning.arrays import Floats
from apps.reckoning.levels import LEVELS, discretised_normal

# The chance that a member's report has nothing to do with the truth (the wrong line, boat or part).
# Project's own estimate. It is 0 for professionals, who sign their findings, and for scales: two
# members who missed a fault must not outvote the surveyor who found it.
SLIP: Final = 0.015
# What somebody reports who says that it is fine without looking, or whatever it is: mostly sound,
# else serviceable. Project's own estimate.
PRAISE: Final = np.array([0.75, 0.25, 0.0, 0.0, 0.0])
TINY: Final = float(np.finfo(float).tiny)


def log_report(
    lean: Floats, sd: Floats, slip: Floats | float, praise: Floats | float = 0.0
) -> Floats:
    """log P(report k | true t), (..., W, k, t).

    lean (..., 1) and sd (..., W), the spread by each widening: in levels. slip and praise
    (..., 1): chances of a slip, and of praise whatever the truth.
    """
    meant = discretised_normal(np.arange(LEVELS) + lean[..., None], sd[..., None])
    by_chance = np.asarray(slip)[..., None, None], np.asarray(praise)[..., None, None]
    report = with_slips(meant, *by_chance)
    # A spread narrower than the grid allows for may underflow; no report is impossible.
    return np.ascontiguousarray(np.log(np.maximum(report, TINY)).swapaxes(-1, -2))


def with_slips(meant: Floats, slip: Floats | float, praise: Floats | float = 0.0) -> Floats:
    """Chances of the five reports; with chance `slip` all are equally likely, with chance `praise`
    they are as in PRAISE. meant: (..., 5).
    """
    by_truth = (1.0 - slip - praise) * meant
    return np.asarray(by_truth + slip / LEVELS + praise * PRAISE, dtype=np.float64)
