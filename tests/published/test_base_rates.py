"""A report against a base rate, by the fit's own exact step.

Mammography: Eddy (1982), in Judgment under Uncertainty, 249-267; Gigerenzer & Hoffrage (1995),
Psychological Review 102, 684-704. Figures from memory, recomputed: 1% have it, 80% of them and 9.6%
of the others test positive, so 7.8% of those who test positive have it.
"""

import numpy as np
import pytest

from apps.reckoning.estimates import FLOOR, batches
from apps.reckoning.tally import Tally

POSITIVE, NEGATIVE = 0, 1
WELL, ILL = 0, 4


def chance_of_ill(*results, care=(0.25, 0.50, 0.25)):
    """P(ill | results), one boat and one checkpoint of which only two levels occur."""
    prior = np.full((3, 5, 1), FLOOR)
    prior[:, WELL], prior[:, ILL] = 0.99, 0.01
    positive = np.full(5, 0.5)
    positive[WELL], positive[ILL] = 0.096, 0.80
    table = np.log(np.stack([positive, 1 - positive]))
    tally = Tally.of(
        cell=np.zeros(len(results), dtype=np.intp),
        code=np.array(results, dtype=np.intp),
        cells=1,
        codes=2,
    )
    (batch,) = batches(tally, boats=1, checkpoints=1)
    return batch.estimate(prior, np.array(care)[:, None], table).level[ILL, 0]


def test_one_positive_test():
    assert chance_of_ill(POSITIVE) == pytest.approx(0.078, abs=0.0005)
    assert chance_of_ill(POSITIVE) == pytest.approx(0.0776398, abs=5e-8)


def test_two_positive_tests_and_a_negative_one():
    """Odds of 1:99, times 0.80/0.096 for each positive and 0.20/0.904 for the negative."""
    odds = 0.01 / 0.99 * (0.80 / 0.096) ** 2
    assert chance_of_ill(POSITIVE, POSITIVE) == pytest.approx(odds / (1 + odds))
    odds *= 0.20 / 0.904
    assert chance_of_ill(POSITIVE, NEGATIVE, POSITIVE) == pytest.approx(odds / (1 + odds))
