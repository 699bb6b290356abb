"""Partial pooling: few data change little, many change much, and no boat is revealed."""

from dataclasses import replace

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import member_prior
from apps.reckoning.levels import mean_level
from apps.reckoning.pooling import TooFewGroups, pool
from apps.reckoning.priors import CARE_PRIOR, CheckpointPriors, Fleet, Reports
from tests.reckoning.simulated import simulate

CHECKPOINTS = 8


def club(boats, seed=1, **truth):
    """A catalogue 0.8 too good for half of the checkpoints and 0.8 too bad for the others.

    Where `truth` does not say, nothing breaks and nobody slips.
    """
    truth = {"breakage": 0.0, "slip": 0.0} | truth
    case = simulate(
        np.random.default_rng(seed),
        boats=boats,
        checkpoints=CHECKPOINTS,
        graders=5,
        lean=np.linspace(-0.5, 0.5, 5),
        **truth,
    )
    shift = np.where(np.arange(CHECKPOINTS) % 2, 0.8, -0.8)
    catalogue = replace(case.priors, mu=case.priors.mu + shift)
    return case, catalogue, np.arange(boats) % 5


def pooled(boats, **options):
    case, catalogue, group = club(boats)
    result = pool(case.fleet, catalogue, case.reports, member_prior(5), group, **options)
    return case, catalogue, result


def moved_share(case, catalogue, result):
    """How far mu moved from the catalogue's figure (0) to the truth (1)."""
    return np.mean((result.priors.mu - catalogue.mu) / (case.priors.mu - catalogue.mu))


def test_ten_findings_move_a_checkpoint_little_and_a_thousand_much():
    few, many = pooled(11), pooled(1_080)
    assert 8 <= few[2].looked_at.mean() <= 12
    assert 950 <= many[2].looked_at.mean() <= 1_080
    assert 0.0 < moved_share(*few) < 0.2
    assert 0.85 < moved_share(*many) < 1.1


def test_more_data_moves_more():
    shares = [moved_share(*pooled(boats)) for boats in (10, 40, 160, 640)]
    assert shares == sorted(shares)


def test_strength_holds_the_catalogue():
    loose = moved_share(*pooled(40, strength=5.0))
    firm = moved_share(*pooled(40, strength=500.0))
    assert firm < 0.15 < 0.5 < loose


def test_what_is_held_keeps_its_figure():
    held = np.arange(CHECKPOINTS) < 2
    _, catalogue, found = pooled(40, held=held)
    assert (found.priors.mu[:2] == catalogue.mu[:2]).all()
    assert (found.priors.mu[2:] != catalogue.mu[2:]).all()
    with pytest.raises(ValueError, match="held"):
        pooled(40, held=held[:3])


def test_the_clubs_care_classes_are_found():
    """A club of cherished and neglected boats and hardly any ordinary one.

    Their mean is the catalogue's, so this is told from a shift of all checkpoints; and care shows
    on every checkpoint, so that a boat's class can be told at all.
    """
    case = simulate(
        np.random.default_rng(2),
        boats=900,
        checkpoints=25,
        graders=3,
        looked=0.3,
        lean=np.array([-0.4, 0.0, 0.4]),
        priors=CheckpointPriors(*(np.full(25, value) for value in (1.6, 0.2, 1.5, 0.8))),
    )
    extreme = (case.care != 1) | (np.arange(900) % 9 == 0)
    share = np.bincount(case.care[extreme], minlength=3) / extreme.sum()
    reports = reports_where(case.reports, extreme[case.reports.boat])
    result = pool(case.fleet, case.priors, reports, member_prior(3), np.arange(900) % 4)
    assert share[1] < 0.15  # against 0.5 in the catalogue
    np.testing.assert_allclose(result.care_prior, share, atol=0.08)
    assert result.care_prior.sum() == pytest.approx(1.0)


def test_what_broke_says_nothing_of_what_wears():
    """Breakages as frequent as in the catalogue leave mu; counted as wear they would raise it."""
    case, _, group = club(1_500, breakage=0.10)
    wear = replace(case.priors, breakage=None)
    by_breakage, by_wear = (
        pool(case.fleet, priors, case.reports, member_prior(5), group).priors.mu - case.priors.mu
        for priors in (case.priors, wear)
    )
    assert np.abs(by_breakage).mean() < 0.06
    assert by_wear.mean() > by_breakage.mean() + 0.08


def test_a_handful_of_boats_hardly_moves_the_care_classes():
    _, _, result = pooled(10)
    np.testing.assert_allclose(result.care_prior, CARE_PRIOR, atol=0.08)


def test_the_bound_never_falls():
    for boats in (6, 60, 300):
        case, catalogue, group = club(boats, breakage=0.05, slip=0.02)
        result = pool(case.fleet, catalogue, case.reports, member_prior(5), group)
        assert result.converged
        assert np.diff(result.bound).min() > -1e-8 * abs(result.bound[-1])


def reports_where(reports, keep):
    return Reports(*(getattr(reports, name)[keep] for name in Reports.__slots__))


def test_what_nobody_looked_at_makes_no_difference():
    """Boats and checkpoints without a report beside the others."""
    case, catalogue, group = club(60)
    seen = np.array([0, 2, 3, 5, 6, 7])
    some = case.reports.where(np.isin(case.reports.checkpoint, seen) & (case.reports.boat >= 20))
    beside = pool(case.fleet, catalogue, some, member_prior(5), group)
    alone = pool(
        Fleet(case.fleet.part_age[20:, seen], case.fleet.applies[20:, seen]),
        CheckpointPriors(*(getattr(catalogue, name)[seen] for name in CheckpointPriors.__slots__)),
        replace(some, boat=some.boat - 20, checkpoint=np.searchsorted(seen, some.checkpoint)),
        member_prior(5),
        group[20:],
    )
    np.testing.assert_allclose(beside.priors.mu[seen], alone.priors.mu)
    np.testing.assert_allclose(beside.care_prior, alone.care_prior)
    np.testing.assert_allclose(beside.bound, alone.bound)
    assert (beside.boats, beside.looked_at[seen].tolist()) == (40, alone.looked_at.tolist())
    assert (beside.priors.mu[[1, 4]] == catalogue.mu[[1, 4]]).all()
    assert not beside.looked_at[[1, 4]].any()
    assert not beside.moved[[1, 4]].any()


@pytest.mark.parametrize("groups", [1, 2])
def test_fewer_than_three_groups_are_refused(groups):
    case, catalogue, _ = club(20)
    group = np.arange(20) % groups
    with pytest.raises(TooFewGroups, match=f"{groups} with reports, 3 needed"):
        pool(case.fleet, catalogue, case.reports, member_prior(5), group)


def test_groups_without_a_report_do_not_count():
    case, catalogue, group = club(20)
    reports = reports_where(case.reports, group[case.reports.boat] < 2)
    with pytest.raises(TooFewGroups):
        pool(case.fleet, catalogue, reports, member_prior(5), group)


def test_the_group_that_gets_the_result_is_left_out():
    case, catalogue, group = club(50)
    result = pool(case.fleet, catalogue, case.reports, member_prior(5), group, without=2)
    others = reports_where(case.reports, group[case.reports.boat] != 2)
    same = pool(case.fleet, catalogue, others, member_prior(5), group)
    np.testing.assert_allclose(result.priors.mu, same.priors.mu)
    assert result.boats == np.sum(group != 2)


def test_leaving_it_out_may_leave_too_few():
    case, catalogue, _ = club(20)
    with pytest.raises(TooFewGroups):
        pool(case.fleet, catalogue, case.reports, member_prior(5), np.arange(20) % 3, without=0)


def test_a_checkpoint_seen_by_two_groups_keeps_the_catalogues_figure():
    case, catalogue, group = club(60)
    hidden = (case.reports.checkpoint == 3) & (group[case.reports.boat] > 1)
    reports = reports_where(case.reports, ~hidden)
    result = pool(case.fleet, catalogue, reports, member_prior(5), group)
    assert result.moved.tolist() == [j != 3 for j in range(CHECKPOINTS)]
    assert result.priors.mu[3] == catalogue.mu[3]
    assert np.all(result.priors.mu[result.moved] != catalogue.mu[result.moved])


def test_graders_are_handed_on_as_known_and_strangers_as_they_were():
    case, catalogue, group = club(60)
    reports = reports_where(case.reports, case.reports.grader != 4)
    result = pool(case.fleet, catalogue, reports, member_prior(5), group)
    known = result.grader_priors
    assert np.all(known.lean_sd[:4] < 0.3)
    assert np.abs(known.lean_mean[:4] - case.lean[:4]).max() < 0.35
    assert (known.lean_mean[4], known.lean_sd[4]) == (0.0, 0.5)


def test_a_pool_makes_a_small_list_better():
    """Fifty boats more of the same club, looked at by few: error with its priors and without."""
    case, catalogue, group = club(600)
    result = pool(case.fleet, catalogue, case.reports, member_prior(5), group)
    fresh = simulate(
        np.random.default_rng(77),
        boats=50,
        checkpoints=CHECKPOINTS,
        graders=5,
        looked=0.1,
        lean=case.lean,
        spread=case.spread,
        priors=case.priors,
    )

    def error(priors, graders, care_prior):
        belief = fit(fresh.fleet, priors, fresh.reports, graders, care_prior=care_prior)
        return np.sqrt(np.mean((mean_level(belief.level) - fresh.level) ** 2))

    alone = error(catalogue, member_prior(5), CARE_PRIOR)
    helped = error(result.priors, result.grader_priors, result.care_prior)
    assert helped < 0.9 * alone
