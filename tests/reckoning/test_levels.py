"""Reading a distribution over the five levels."""

import numpy as np
import pytest

from apps.reckoning.levels import (
    LEVELS,
    discretised_normal,
    entropy,
    interval,
    level_prior,
    mean_before_rounding,
    mean_level,
    worn_share,
    worst_credible_level,
)

NOT_APPLICABLE = np.zeros(LEVELS)


def test_a_discretised_normal_is_a_distribution_over_five_levels():
    mean, sd = np.linspace(-6, 10, 33)[:, None], np.geomspace(0.05, 20, 17)
    level = discretised_normal(mean, sd)
    assert level.shape == (33, 17, LEVELS)
    assert np.all(level >= 0)
    np.testing.assert_allclose(level.sum(axis=-1), 1.0, atol=1e-14)


def test_a_discretised_normal_is_symmetric_about_the_middle_level():
    offset = np.linspace(0, 3, 7)
    worse, better = discretised_normal(2 + offset, 0.7), discretised_normal(2 - offset, 0.7)
    np.testing.assert_allclose(worse, better[:, ::-1], rtol=1e-12)


def test_far_tails_keep_their_digits():
    """A difference of distribution functions close to 1 would come out as 0."""
    level = discretised_normal(0.0, 0.4)
    assert level[4] == pytest.approx(discretised_normal(4.0, 0.4)[0], rel=1e-12)
    assert 0 < level[4] < 1e-17


@pytest.mark.parametrize("sd", [0.0, -1.0, np.nan])
def test_a_spread_must_be_positive(sd):
    with pytest.raises(ValueError, match="sd: must be positive"):
        discretised_normal(1.0, sd)


def test_a_level_beforehand_is_wear_or_a_breakage():
    wear = discretised_normal([1.0, 3.0], [0.8, 0.5])
    level = level_prior([1.0, 3.0], [0.8, 0.5], [0.1, 0.0])
    np.testing.assert_allclose(level[0], 0.9 * wear[0] + 0.1 * np.array([0, 0, 0, 0.5, 0.5]))
    np.testing.assert_array_equal(level[1], wear[1])


def test_what_came_by_wear_is_told_by_bayes_theorem():
    wear, level = discretised_normal(1.0, 0.8), level_prior(1.0, 0.8, 0.02)
    np.testing.assert_allclose(worn_share(1.0, 0.8, 0.02), 0.98 * wear / level)
    assert worn_share(-20.0, 0.3, 0.02).tolist() == pytest.approx([1, 1, 1, 0, 0])
    assert worn_share(-20.0, 0.3, 0.0).tolist() == [1, 1, 1, 1, 1]


@pytest.mark.parametrize("breakage", [-0.01, 1.0, np.nan])
def test_a_breakage_is_a_share(breakage):
    for of in (level_prior, worn_share):
        with pytest.raises(ValueError, match="broken: must be from 0 to below 1"):
            of(1.0, 0.8, breakage)


def test_the_mean_before_rounding_averages_back_to_the_mean():
    mean, sd = np.array([-1.0, 0.4, 2.0, 3.9]), 0.8
    level, unrounded = discretised_normal(mean, sd), mean_before_rounding(mean, sd)
    np.testing.assert_allclose(np.sum(level * unrounded, axis=-1), mean, rtol=1e-12)


def test_the_mean_before_rounding_lies_within_its_level_however_unlikely():
    unrounded = mean_before_rounding([-40.0, 2.0, 44.0], 0.3)
    assert np.all(unrounded[:, 1:] >= [0.5, 1.5, 2.5, 3.5])
    assert np.all(unrounded[:, :-1] <= [0.5, 1.5, 2.5, 3.5])


def test_mean_level():
    assert mean_level(np.array([0.5, 0, 0, 0, 0.5])) == 2.0


@pytest.mark.parametrize(
    ("level", "expected"),
    [
        ([1, 0, 0, 0, 0], [0, 0]),
        ([0.1, 0.8, 0.1, 0, 0], [1, 1]),  # a tail of exactly 10% is left out at either end
        ([0.11, 0.78, 0.11, 0, 0], [0, 2]),
        ([0.2, 0.2, 0.2, 0.2, 0.2], [0, 4]),
        (NOT_APPLICABLE, [-1, -1]),
    ],
)
def test_an_interval_of_a_level_leaves_at_most_a_tenth_at_either_end(level, expected):
    assert interval(np.array(level, float)).tolist() == expected


def test_a_wider_interval_holds_more():
    level = np.array([0.04, 0.16, 0.6, 0.16, 0.04])
    assert interval(level, mass=0.5).tolist() == [2, 2]
    assert interval(level, mass=0.95).tolist() == [0, 4]


@pytest.mark.parametrize(
    ("level", "expected"),
    [
        ([0.9, 0, 0, 0, 0.1], 4),
        ([0.7, 0.2, 0, 0.01, 0.09], 1),
        ([1, 0, 0, 0, 0], 0),
        (NOT_APPLICABLE, -1),
    ],
)
def test_the_worst_credible_level_is_the_highest_at_one_in_ten(level, expected):
    assert worst_credible_level(np.array(level, float)) == expected


def test_entropy_is_in_bits():
    level = np.array([[1, 0, 0, 0, 0], [0.5, 0.5, 0, 0, 0], [0.2] * 5])
    np.testing.assert_allclose(entropy(level), [0.0, 1.0, np.log2(5)])
