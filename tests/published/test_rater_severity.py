"""Raters who do not all see the same: a published incomplete block, corrected for severity.

Montgomery, Design and Analysis of Experiments, catalyst by batch (Example 4-5 of the 5th edition):
twelve observations read in public course material; the adjusted means from memory and recomputed by
least squares. Each rater (batch) misses one item (catalyst), and the plain means put items 1, 2 and
3 in the wrong order because the most severe rater never saw item 1.

A level is a whole number, so each observation is spread over 40 checkpoints whose thresholds lie
evenly within a level: their mean keeps the fraction. Four of its units are a level here.
"""

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import GraderPriors, seller_prior
from apps.reckoning.levels import mean_level
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports

OBSERVED = np.array(
    [
        (1, 1, 73),
        (1, 2, 74),
        (1, 4, 71),
        (2, 2, 75),
        (2, 3, 67),
        (2, 4, 72),
        (3, 1, 73),
        (3, 2, 75),
        (3, 3, 68),
        (4, 1, 75),
        (4, 3, 72),
        (4, 4, 75),
    ]
)  # fmt: skip  item, rater, value
INTERCEPT, UNITS_A_LEVEL, CHECKPOINTS = 72.5, 4.0, 40
ADJUSTED_MEANS = [71.375, 71.625, 72.0, 75.0]
RATER_EFFECTS = [0.875, 3.0, -3.875, 0.0]


@pytest.fixture(scope="module")
def belief():
    figures = (0.0, 1.0, np.log(0.6), 0.35, 0.0)  # nobody slips
    return fitted(GraderPriors(*(np.full(4, figure) for figure in figures)))


def fitted(graders: GraderPriors):
    item, rater, value = OBSERVED.T
    threshold = (np.arange(CHECKPOINTS) + 0.5) / CHECKPOINTS - 0.5
    worse = 2 + (INTERCEPT - value) / UNITS_A_LEVEL  # a low value is a bad level
    level = np.rint(worse[:, None] + threshold).astype(np.intp)
    reports = Reports(
        boat=np.repeat(item - 1, CHECKPOINTS),
        checkpoint=np.tile(np.arange(CHECKPOINTS), len(OBSERVED)),
        grader=np.repeat(rater - 1, CHECKPOINTS),
        level=level.ravel(),
        widening=np.ones(level.size),
    )
    fleet = Fleet(np.full((4, CHECKPOINTS), 30.0), np.ones((4, CHECKPOINTS), dtype=bool))
    wide = CheckpointPriors(*(np.full(CHECKPOINTS, figure) for figure in (2.0, 0.0, 0.0, 2.0)))
    return fit(fleet, wide, reports, graders)


def test_plain_means_put_the_items_in_another_order():
    means = [OBSERVED[OBSERVED[:, 0] == item, 2].mean() for item in (1, 2, 3, 4)]
    assert means == pytest.approx([72.6667, 71.3333, 72.0, 74.0], abs=5e-5)
    assert (np.argsort(means)[::-1] + 1).tolist() == [4, 1, 3, 2]


def test_items_corrected_for_severity(belief):
    means = INTERCEPT - UNITS_A_LEVEL * (mean_level(belief.level).mean(axis=1) - 2)
    assert (np.argsort(means)[::-1] + 1).tolist() == [4, 3, 2, 1]
    assert means == pytest.approx(ADJUSTED_MEANS, abs=0.7)


def test_severity_of_the_raters(belief):
    effects = -UNITS_A_LEVEL * belief.graders.lean_mean
    assert np.argsort(effects).tolist() == np.argsort(RATER_EFFECTS).tolist()
    assert effects == pytest.approx(RATER_EFFECTS, abs=0.7)


def test_the_mildest_rater_may_be_a_seller(belief):
    """Batch 2 is 0.75 of a level milder than the others: what is assumed of a seller.

    With that prior, which is not a member's, the items come out in the same adjusted order, and the
    lean is found again.
    """
    figures = (0.0, 1.0, np.log(0.6), 0.35, 0.0)
    member = GraderPriors(*(np.array([figure]) for figure in figures))
    seller = seller_prior()
    graders = GraderPriors.joined([member, seller, member, member])
    found = fitted(graders)
    assert seller.lean_mean[0] == -RATER_EFFECTS[1] / UNITS_A_LEVEL
    means = INTERCEPT - UNITS_A_LEVEL * (mean_level(found.level).mean(axis=1) - 2)
    assert (np.argsort(means)[::-1] + 1).tolist() == [4, 3, 2, 1]
    assert means == pytest.approx(ADJUSTED_MEANS, abs=0.7)
    effects = -UNITS_A_LEVEL * found.graders.lean_mean
    assert effects == pytest.approx(RATER_EFFECTS, abs=0.7)
