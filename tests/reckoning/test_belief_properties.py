"""Properties of the fit for any list."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.belief import fit
from apps.reckoning.condition import look_counts
from apps.reckoning.grader_priors import GraderPriors, member_prior, surveyor_prior
from apps.reckoning.levels import interval, mean_level, worst_credible_level
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports, prior_levels

TOLERANCE = 1e-7  # fits that stopped at 1e-9 are closer than this to one another

settings.register_profile("belief", max_examples=40, deadline=None)
belief_settings = settings.get_profile("belief")


@st.composite
def lists(draw):
    """Fleet, priors, reports and grader priors of a small list, reports on anything that applies.

    Numbers come from a seeded generator, which keeps shrinking to the sizes that matter.
    """
    boats, checkpoints, graders = (draw(st.integers(1, n)) for n in (4, 5, 4))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    applies = rng.random((boats, checkpoints)) < 0.9
    fleet = Fleet(part_age=rng.uniform(0, 60, applies.shape), applies=applies)
    priors = CheckpointPriors(
        mu=rng.uniform(-0.5, 4.5, checkpoints),
        age=rng.uniform(-0.2, 0.6, checkpoints),
        care=rng.uniform(0.0, 1.5, checkpoints),
        sd=rng.uniform(0.2, 1.5, checkpoints),
    )
    boat, checkpoint = np.nonzero(applies)
    count = draw(st.integers(0, 30)) if len(boat) else 0
    which = rng.integers(0, max(len(boat), 1), count)
    reports = Reports(
        boat=boat[which],
        checkpoint=checkpoint[which],
        grader=rng.integers(0, graders, count),
        level=rng.integers(0, 5, count),
        widening=rng.choice([1.0, 1.3, 2.0], count),
    )
    kinds = [surveyor_prior() if rng.random() < 0.3 else member_prior() for _ in range(graders)]
    return fleet, priors, reports, GraderPriors.joined(kinds)


def fitted(fleet, priors, reports, graders):
    return fit(fleet, priors, reports, graders, tolerance=1e-9, max_rounds=5_000)


def reordered(record, order):
    rows = (getattr(record, name) for name in record.__slots__)
    return type(record)(*(None if row is None else row[order] for row in rows))


@belief_settings
@given(lists())
def test_probabilities_are_probabilities(case):
    fleet, *_ = case
    belief = fitted(*case)
    for level in (belief.level, np.moveaxis(belief.level_given_care, 1, 0)):
        assert np.all((level >= 0) & (level <= 1 + 1e-12))
        np.testing.assert_allclose(
            level.sum(axis=-1), np.broadcast_to(fleet.applies, level.shape[:-1]), atol=1e-12
        )
    np.testing.assert_allclose(belief.care.sum(axis=1), 1.0)
    np.testing.assert_allclose(belief.graders.weights.sum(axis=(1, 2)), 1.0)


@belief_settings
@given(lists())
def test_the_evidence_bound_never_falls(case):
    belief = fitted(*case)
    assert belief.converged
    assert np.all(np.diff(belief.bound) >= -1e-9 * np.maximum(1.0, np.abs(belief.bound[:-1])))


@belief_settings
@given(lists(), st.randoms(use_true_random=False))
def test_the_order_of_reports_does_not_matter(case, random):
    fleet, priors, reports, graders = case
    order = np.array(random.sample(range(len(reports)), len(reports)), dtype=np.intp)
    one, other = fitted(*case), fitted(fleet, priors, reordered(reports, order), graders)
    np.testing.assert_allclose(other.level, one.level, atol=TOLERANCE)
    np.testing.assert_allclose(other.care, one.care, atol=TOLERANCE)
    np.testing.assert_allclose(other.graders.lean_mean, one.graders.lean_mean, atol=1e-5)
    np.testing.assert_allclose(other.graders.lean_sd, one.graders.lean_sd, atol=1e-5)


@belief_settings
@given(lists(), st.randoms(use_true_random=False))
def test_the_order_of_graders_does_not_matter(case, random):
    fleet, priors, reports, graders = case
    order = np.array(random.sample(range(len(graders)), len(graders)))
    place = np.argsort(order)
    renamed = replace(reports, grader=place[reports.grader])
    one, other = fitted(*case), fitted(fleet, priors, renamed, reordered(graders, order))
    np.testing.assert_allclose(other.level, one.level, atol=TOLERANCE)
    np.testing.assert_allclose(other.graders.lean_mean, one.graders.lean_mean[order], atol=1e-5)
    np.testing.assert_allclose(other.graders.spread_mean, one.graders.spread_mean[order], rtol=1e-5)


@belief_settings
@given(lists(), st.randoms(use_true_random=False))
def test_relabelling_candidates_relabels_the_result(case, random):
    fleet, priors, reports, graders = case
    order = np.array(random.sample(range(len(fleet.applies)), len(fleet.applies)))
    renamed = replace(reports, boat=np.argsort(order)[reports.boat])
    one, other = fitted(*case), fitted(reordered(fleet, order), priors, renamed, graders)
    np.testing.assert_allclose(other.level, one.level[order], atol=TOLERANCE)
    np.testing.assert_allclose(other.care, one.care[order], atol=TOLERANCE)


@belief_settings
@given(lists())
def test_what_nobody_looked_at_is_never_sound_by_report(case):
    """Its belief lies within the priors of the care classes, whatever was reported."""
    fleet, priors, reports, _ = case
    belief = fitted(*case)
    prior = prior_levels(fleet, priors)
    unseen = (look_counts(reports, fleet.applies.shape) == 0) & fleet.applies
    before = np.moveaxis(prior, 1, 2)[unseen]  # (cells, 3, 5)
    np.testing.assert_allclose(
        np.moveaxis(belief.level_given_care, 1, 2)[unseen], before, atol=1e-12
    )
    assert np.all(belief.level[unseen][:, 0] <= before[:, :, 0].max(axis=1) + 1e-12)


@belief_settings
@given(lists(), st.integers(0, 2**16))
def test_a_further_report_of_failed_never_makes_it_look_better(case, seed):
    """For known graders only: a learned grader may turn out harsh, and then it may look better."""
    fleet, priors, reports, graders = case
    if not fleet.applies.any():
        return
    rng = np.random.default_rng(seed)
    boat, checkpoint = (index[0] for index in np.nonzero(fleet.applies))
    more = Reports(
        *(
            np.append(getattr(reports, name), value)
            for name, value in zip(
                Reports.__slots__,
                (boat, checkpoint, rng.integers(len(graders)), 4, 1.0),
                strict=True,
            )
        )
    )
    before, after = (
        fit(fleet, priors, some, graders, calibrate=False).level for some in (reports, more)
    )
    assert np.all(mean_level(after[boat]) >= mean_level(before[boat]) - 1e-9)


@belief_settings
@given(lists())
def test_readings_agree_with_one_another(case):
    fleet, *_ = case
    level = fitted(*case).level[fleet.applies]
    low, high = interval(level).T
    assert np.all((low <= high) & (low >= 0))
    assert np.all(worst_credible_level(level) >= high - 1)
    assert np.all((mean_level(level) > low - 1) & (mean_level(level) < high + 1))
