"""Simulation-based calibration: of what is given 30%, three in ten come true.

Truth and reports are drawn from the model on 200 lists of many sizes, from hardly looked at to
well looked at (Cook, Gelman & Rubin, 2006, Journal of Computational and Graphical Statistics 15,
675-692, and Talts et al., 2018, for the idea; the bands are those of a reliability diagram).
"""

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.condition import look_counts
from apps.reckoning.grader_priors import member_prior
from apps.reckoning.levels import LEVELS, interval
from apps.reckoning.priors import CARE_CLASSES
from tests.reckoning.simulated import simulate

LISTS = 200
BANDS = 10
WITHIN = 0.05
FEWEST = 250  # below so many predictions chance alone takes a band further than WITHIN


@pytest.fixture(scope="module")
def outcomes():
    """For every level of every checkpoint, and every care class: predicted, happened, seen."""
    level, care, inside = [], [], []
    for seed in range(LISTS):
        rng = np.random.default_rng([2024, seed])
        case = simulate(
            rng,
            boats=int(rng.integers(4, 25)),
            checkpoints=int(rng.integers(15, 75)),
            graders=int(rng.integers(1, 7)),
            looked=rng.uniform(0.1, 0.7),
        )
        graders = member_prior(len(case.lean))
        belief = fit(case.fleet, case.priors, case.reports, graders)
        assert belief.converged
        looks = look_counts(case.reports, case.level.shape)
        happened = case.level[..., None] == np.arange(LEVELS)
        seen = np.broadcast_to(looks[..., None] > 0, happened.shape)
        level.append(np.stack([belief.level.ravel(), happened.ravel(), seen.ravel()]))
        is_class = case.care[:, None] == np.arange(len(CARE_CLASSES))
        care.append(np.stack([belief.care.ravel(), is_class.ravel()]))
        low, high = np.moveaxis(interval(belief.level), -1, 0)
        inside.append(((low <= case.level) & (case.level <= high)).ravel())
    return np.concatenate(level, axis=1), np.concatenate(care, axis=1), np.concatenate(inside)


def worst_band(predicted, happened):
    """Largest distance between predicted and observed share, over bands of a tenth."""
    band = np.minimum((predicted * BANDS).astype(int), BANDS - 1)
    distances = [
        abs(predicted[here].mean() - happened[here].mean())
        for here in (band == n for n in range(BANDS))
        if here.sum() >= FEWEST
    ]
    assert len(distances) >= BANDS - 3
    return max(distances)


def test_levels_are_calibrated_in_every_band(outcomes):
    predicted, happened, _ = outcomes[0]
    assert worst_band(predicted, happened) < WITHIN


@pytest.mark.parametrize("looked", [True, False])
def test_so_are_those_looked_at_and_those_not(outcomes, looked):
    predicted, happened, seen = outcomes[0]
    here = seen == looked
    assert worst_band(predicted[here], happened[here]) < WITHIN


def test_an_interval_of_eighty_percent_holds_at_least_that(outcomes):
    """Levels are whole, so a central interval holds a little more than its mass."""
    assert 0.80 < outcomes[2].mean() < 0.97


def test_care_classes_are_calibrated_nearly_as_well(outcomes):
    """The mean-field fit cannot see errors that all graders share; this shows them."""
    predicted, happened = outcomes[1]
    assert worst_band(predicted, happened) < 2 * WITHIN
