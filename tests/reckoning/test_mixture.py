"""The belief averaged over draws of the raters: exact given each, and wide enough."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from apps.reckoning.belief import fit
from apps.reckoning.condition import condition_score
from apps.reckoning.conditional import by_level
from apps.reckoning.costs import Purchase, expected_costs, moments
from apps.reckoning.costs import simulate as simulate_costs
from apps.reckoning.grader_priors import LEANS, SPREADS, GraderPriors, member_prior, surveyor_prior
from apps.reckoning.levels import LEVELS, mean_level
from apps.reckoning.marginal import Marginal
from apps.reckoning.mixture import DRAWS, _normal_draws, _shares, fit_mixed
from apps.reckoning.priors import CARE_PRIOR, CheckpointPriors, Fleet, Reports, prior_levels
from apps.reckoning.reporting import log_report
from tests.bench.fleet import invented_case
from tests.reckoning.cost_cases import random_work
from tests.reckoning.coverage import Case, drawn_list
from tests.reckoning.simulated import simulate

ROWS = [(0, 0, 0, 3, 1.0), (0, 0, 1, 2, 2.0), (0, 1, 0, 1, 1.3), (1, 1, 1, 4, 1.0)]


def small():
    """Two boats, two checkpoints, two graders: fleet, priors, reports and graders' priors."""
    fleet = Fleet(part_age=np.full((2, 2), 30.0), applies=np.ones((2, 2), dtype=bool))
    priors = CheckpointPriors(*(np.full(2, value) for value in (1.2, 0.2, 0.8, 0.9)))
    boat, checkpoint, grader, level = np.array([row[:4] for row in ROWS]).T
    reports = Reports(boat, checkpoint, grader, level, np.array([row[4] for row in ROWS]))
    return fleet, priors, reports, GraderPriors.joined([member_prior(), surveyor_prior()])


def marginal_of(fleet, priors, reports, grader_priors):
    return Marginal(
        fleet, priors, reports, grader_priors, np.tile(CARE_PRIOR, (len(fleet.applies), 1))
    )


def case_of(seed, *, boats=6, checkpoints=12, graders=3, looked=0.5, **options):
    case = simulate(
        np.random.default_rng(seed),
        boats=boats,
        checkpoints=checkpoints,
        graders=graders,
        looked=looked,
        **options,
    )
    return case, (case.fleet, case.priors, case.reports, member_prior(graders))


class TestTheJointPosterior:
    def test_the_evidence_is_that_of_enumeration(self):
        fleet, priors, reports, graders = small()
        value = np.array([[0.4, -0.1], np.log([0.7, 0.3])])
        told = np.zeros((3, 2, 2, LEVELS))  # log P(reports of the cell | level); class, boat, ...
        for boat, checkpoint, grader, level, widening in ROWS:
            sd = np.exp(value[1, grader]) * np.array([widening])
            told[:, boat, checkpoint] += log_report(
                np.array([value[0, grader]]), sd, graders.slip[[grader]]
            )[0, level]
        prior = prior_levels(fleet, priors).transpose(1, 0, 2, 3)
        total = np.zeros(2)
        for c, boat in product(range(3), range(2)):
            cells = (prior * np.exp(told))[c, boat]
            total[boat] += CARE_PRIOR[c] * sum(
                cells[0, first] * cells[1, second]
                for first, second in product(range(LEVELS), repeat=2)
            )
        marginal = marginal_of(fleet, priors, reports, graders)
        (_, weighed), *rest = marginal.weigh(graders.free(value).reshape(1, -1))
        assert not rest
        assert weighed.log_evidence[0] == pytest.approx(np.log(total).sum(), rel=1e-12)

    def test_the_gradient_is_the_slope_of_the_density(self):
        marginal = marginal_of(*small())
        free = np.random.default_rng(1).normal(size=(3, 4))
        gradient = marginal.gradient(free)
        for parameter, step in enumerate(1e-4 * np.eye(4)):
            slope = (marginal.log_density(free + step) - marginal.log_density(free - step)) / 2e-4
            np.testing.assert_allclose(gradient[:, parameter], slope, rtol=1e-5, atol=1e-5)

    def test_nothing_near_the_mode_is_likelier(self):
        _, inputs = case_of(2)
        marginal = marginal_of(*inputs)
        mode, axes = marginal.mode(np.zeros(6))
        ball = np.random.default_rng(1).normal(size=(200, 6))
        around = mode + 0.5 * ball / np.linalg.norm(ball, axis=1, keepdims=True) @ axes.T
        assert marginal.log_density(around).max() < marginal.log_density(mode[None])[0]

    def test_sets_of_graders_a_few_at_a_time_come_to_the_same(self, monkeypatch):
        marginal = marginal_of(*small())
        free = np.random.default_rng(1).normal(size=(5, 4))
        whole = marginal.log_density(free), marginal.gradient(free)
        monkeypatch.setattr("apps.reckoning.marginal.CELLS_AT_ONCE", 2 * len(marginal.boat))
        np.testing.assert_allclose(marginal.log_density(free), whole[0], rtol=1e-12)
        np.testing.assert_allclose(marginal.gradient(free), whole[1], rtol=1e-9, atol=1e-12)

    def test_a_value_and_its_free_value_belong_to_one_another(self):
        graders = GraderPriors.joined([member_prior(2), surveyor_prior()])
        value = np.array([[-1.4, 0.0, 0.2], np.log([0.21, 0.6, 0.4])])
        np.testing.assert_allclose(graders.values(graders.free(value)), value, atol=1e-9)
        low, high = graders.values(np.array([[[-50.0] * 3] * 2, [[50.0] * 3] * 2]))
        np.testing.assert_allclose(low, np.outer([LEANS[0], np.log(SPREADS[0])], np.ones(3)))
        np.testing.assert_allclose(high, np.outer([LEANS[-1], np.log(SPREADS[-1])], np.ones(3)))

    def test_free_values_are_standard_normal_beforehand(self):
        """Drawn leans and spreads are those assumed, but for what lies beyond the grid."""
        free = np.random.default_rng(1).standard_normal((20_000, 2, 1))
        lean, log_spread = member_prior().values(free)[..., 0].T
        assert lean.std() == pytest.approx(0.5, rel=0.03)
        assert log_spread.mean() == pytest.approx(np.log(0.6), abs=0.01)
        assert log_spread.std() == pytest.approx(0.35, rel=0.03)


class TestTheDraws:
    def test_they_have_the_normals_mean_and_covariance_exactly(self):
        normal = _normal_draws(DRAWS, 12)
        np.testing.assert_allclose(normal.mean(axis=0), 0.0, atol=1e-12)
        np.testing.assert_allclose(normal.T @ normal / DRAWS, np.eye(12), atol=1e-12)

    def test_of_more_directions_than_draws_the_leading_ones_have(self):
        normal = _normal_draws(DRAWS, 60)[:, : DRAWS // 4]
        np.testing.assert_allclose(normal.T @ normal / DRAWS, np.eye(DRAWS // 4), atol=1e-12)

    def test_weights_are_evened_out_only_where_too_few_count(self):
        mild = np.array([0.0, 0.1, -0.2, 0.3])
        np.testing.assert_allclose(_shares(mild), np.exp(mild) / np.exp(mild).sum())
        steep = _shares(np.array([0.0, 50.0, 0.0, 49.0]))
        assert 1 / np.sum(steep**2) == pytest.approx(2.0, rel=1e-3)
        assert steep.argmax() == 1


class TestTheBelief:
    def test_probabilities_are_probabilities(self):
        _, inputs = case_of(3)
        belief = fit_mixed(*inputs)
        mixture = belief.mixture
        assert mixture.share.sum() == pytest.approx(1.0)
        np.testing.assert_allclose(
            mixture.care.sum(axis=2), np.broadcast_to(mixture.share, (6, DRAWS)), rtol=1e-9
        )
        np.testing.assert_allclose(mixture.level_given_care.sum(axis=-1), 1.0, rtol=1e-9)
        np.testing.assert_allclose(belief.care.sum(axis=1), 1.0)
        care, level = belief.components
        np.testing.assert_allclose(np.einsum("ic,icjt->ijt", care, level), belief.level, atol=1e-12)

    def test_where_nobody_looked_and_nothing_applies_it_is_the_prior_and_nothing(self):
        fleet, priors, reports, graders = small()
        fleet = replace(fleet, applies=np.array([[True, True], [False, True]]))
        belief = fit_mixed(fleet, priors, reports, graders)
        assert not belief.level[1, 0].any()
        unseen = replace(fleet, applies=np.ones((2, 2), dtype=bool))
        at_prior = prior_levels(unseen, priors)[1, :, 0]
        level = fit_mixed(unseen, priors, reports, graders).mixture.level_given_care[1, :, :, 0]
        np.testing.assert_allclose(level, np.broadcast_to(at_prior, level.shape))

    def test_without_a_report_there_is_nothing_to_mix(self):
        fleet, priors, reports, graders = small()
        none = Reports(*(getattr(reports, name)[:0] for name in Reports.__slots__))
        belief = fit_mixed(fleet, priors, none, graders)
        assert belief.mixture is None
        assert np.array_equal(belief.level, fit(fleet, priors, none, graders).level)

    def test_a_list_as_it_is_comes_out_the_same_again_and_whoever_comes_first(self):
        case, inputs = case_of(4)
        once, again = fit_mixed(*inputs), fit_mixed(*inputs)
        assert np.array_equal(once.level, again.level)
        turned = replace(case.reports, grader=2 - case.reports.grader)
        other = fit_mixed(case.fleet, case.priors, turned, member_prior(3))
        np.testing.assert_allclose(other.level, once.level, atol=1e-6)
        np.testing.assert_allclose(
            other.graders.lean_interval()[::-1], once.graders.lean_interval(), atol=1e-6
        )

    def test_what_the_graders_have_in_common_widens_the_condition_not_each_level(self):
        """Two people look at 40 checkpoints of each boat: all may be a little worse, or none."""
        _, inputs = case_of(5, boats=4, checkpoints=40, graders=2, looked=0.9)
        weights = np.ones(40)
        plain, mixed = fit(*inputs), fit_mixed(*inputs)
        found = [condition_score(each, inputs[0], inputs[2], weights) for each in (plain, mixed)]
        widths = [(each.high - each.low).mean() for each in found]
        assert widths[1] > 1.5 * widths[0]
        np.testing.assert_allclose(mean_level(mixed.level), mean_level(plain.level), atol=0.5)


class TestLeans:
    def contradicted(self):
        """A surveyor finds 3 or 4 wherever a member saw 0 or 1."""
        fleet = Fleet(part_age=np.full((3, 20), 30.0), applies=np.ones((3, 20), dtype=bool))
        priors = CheckpointPriors(*(np.full(20, value) for value in (1.2, 0.2, 0.8, 0.9)))
        boat, checkpoint = (index.ravel() for index in np.indices((3, 20)))
        saw = (boat + checkpoint) % 2
        reports = Reports(
            np.tile(boat, 2),
            np.tile(checkpoint, 2),
            np.repeat([0, 1], 60),
            np.concatenate([saw, saw + 3]),
            np.ones(120),
        )
        return fleet, priors, reports, GraderPriors.joined([member_prior(), surveyor_prior()])

    @pytest.mark.parametrize("fitted", [fit, fit_mixed])
    def test_a_lean_stays_within_what_a_lean_can_be(self, fitted):
        graders = fitted(*self.contradicted()).graders
        interval = graders.lean_interval()
        assert interval[0, 0] >= LEANS[0]
        assert interval[0, 0] < interval[0, 1] < -1.0
        assert LEANS[0] <= graders.lean_mean[0] <= -1.0
        assert (graders.spread_interval() <= SPREADS[-1]).all()

    def test_somebody_who_hardly_looked_is_as_before(self):
        fleet, priors, reports, _ = small()
        graders = fit_mixed(fleet, priors, reports, member_prior(3)).graders
        np.testing.assert_allclose(graders.lean_mean[2], 0.0, atol=0.05)
        assert np.diff(graders.lean_interval()[2])[0] == pytest.approx(2 * 1.2816 * 0.5, rel=0.1)

    def test_leans_are_as_uncertain_as_many_wide_draws_say(self):
        """Two people saw nearly all of four boats. Drawn no wider than the mode's curvature says,
        leans would be a tenth too certain."""
        case, invented = Case("model", boats=4, graders=2, looked=0.9), invented_case()
        priors, believed, found = member_prior(2), [], []
        for number in range(8):
            one = drawn_list(case, invented.priors, np.random.default_rng([4, number]))
            looks = one.fleet, invented.priors, one.reports, priors
            graders = fit_mixed(*looks).graders
            believed.append(spread_of(graders.share, graders.free[:, 0]))
            marginal = Marginal(*looks, np.tile(CARE_PRIOR, (4, 1)))
            mode, axes = marginal.mode(graders.share @ graders.free.reshape(DRAWS, -1))
            wide = _normal_draws(512, len(mode))
            free = mode + 1.5 * wide @ axes.T
            log_weight = marginal.log_density(free) + np.sum(wide**2, axis=1) / 2
            weight = np.exp(log_weight - log_weight.max())
            found.append(spread_of(weight / weight.sum(), free[:, :2]))
        assert 0.94 < np.mean(believed) / np.mean(found) < 1.06


def spread_of(share, value):
    return np.sqrt(share @ (value - share @ value) ** 2)


class TestWhatIsMadeOfIt:
    def test_exact_moments_are_the_average_of_the_draws_and_the_variance_between(self):
        _, inputs = case_of(6, checkpoints=5)
        belief = fit_mixed(*inputs)
        work = random_work(np.random.default_rng(1), checkpoints=5)
        care, level = belief.of_boat(0)
        share = belief.mixture.share
        each = [
            moments(part / part.sum(), of, work, Purchase(10_000))
            for part, of in zip(care, level, strict=True)
        ]
        mean = share @ [one.work_mean for one in each]
        second = share @ [one.work_sd**2 + one.work_mean**2 for one in each]
        whole = moments(care, level, work, Purchase(10_000))
        assert whole.work_mean == pytest.approx(mean, rel=1e-9)
        assert whole.work_sd**2 == pytest.approx(second - mean**2, rel=1e-6)
        by_care = belief.care[0] @ whole.work_mean_given_care
        assert whole.work_mean == pytest.approx(by_care, rel=1e-9)

    def test_draws_of_all_boats_share_their_graders(self):
        _, inputs = case_of(7, checkpoints=5)
        belief = fit_mixed(*inputs)
        work = random_work(np.random.default_rng(1), checkpoints=5)
        drawn = [
            simulate_costs(*belief.of_boat(i), work, Purchase(10_000), seed=i) for i in range(6)
        ]
        graders = [each.by_outcome(each.graders) for each in drawn]
        for other in graders[1:]:
            assert np.array_equal(graders[0], other)
        share = np.bincount(graders[0], minlength=DRAWS) / len(graders[0])
        np.testing.assert_allclose(share, belief.mixture.share, atol=2e-4)
        for i, each in enumerate(drawn):
            seen = np.stack([(each.level == t).mean(axis=1) for t in range(LEVELS)], axis=-1)
            np.testing.assert_allclose(seen, belief.level[i], atol=0.03)

    def test_care_of_one_boat_says_nothing_of_anothers(self):
        """Otherwise all boats would be neglected in the same outcomes."""
        care = np.array(CARE_PRIOR)
        level = np.full((3, 1, LEVELS), 0.2)
        work = random_work(np.random.default_rng(1), checkpoints=1)
        one, other = (simulate_costs(care, level, work, Purchase(1.0), seed=i) for i in (1, 2))
        classes = [each.by_outcome(each.care).astype(float) for each in (one, other)]
        assert abs(np.corrcoef(classes)[0, 1]) < 0.05

    def test_a_level_is_priced_by_the_graders_under_whom_it_is_likely(self):
        """Worse than they said: their leans are, so what else they saw is worse too."""
        _, inputs = case_of(8, boats=3, checkpoints=5, graders=2, looked=0.9)
        belief = fit_mixed(*inputs)
        care, level = belief.of_boat(0)
        work, free = random_work(np.random.default_rng(1), checkpoints=5), Purchase(10_000)
        draws = simulate_costs(care, level, work, free, seed=1)
        expected = expected_costs(care, level, work, free)
        table = by_level(draws, care, level, work, expected, 1e6)
        c = int(belief.care[0].argmax())
        for checkpoint, t in product(range(5), range(LEVELS)):
            joint = care[:, c] * level[:, c, checkpoint, t]
            if joint.sum() < 0.01:
                continue
            known, only = level.copy(), np.zeros_like(care)
            known[:, :, checkpoint] = np.eye(LEVELS)[t]
            only[:, c] = joint / joint.sum()
            exact = moments(only, known, work, free)
            assert table.all_in[checkpoint, c, t] == pytest.approx(exact.all_in_mean)


def test_what_is_known_of_a_boats_care_counts_as_a_report_of_it_does():
    """By Bayes' theorem; boats of which nothing more is known stay as they are, reports or none."""
    _, (fleet, priors, reports, graders) = case_of(4, boats=4)
    mine = reports.boat < 3  # nobody looked at the last
    reports = Reports(*(getattr(reports, name)[mine] for name in Reports.__slots__))
    told = np.ones((4, 3))
    told[[0, 3]] = (0.5, 1.0, 2.0)
    known = replace(fleet, care_likelihood=told)
    before = fit(fleet, priors, reports, graders, calibrate=False)
    after = fit(known, priors, reports, graders, calibrate=False)
    expected = before.care * told
    np.testing.assert_allclose(after.care, expected / expected.sum(axis=1, keepdims=True))
    np.testing.assert_allclose(after.level_given_care, before.level_given_care)
    mixed, plain = (fit_mixed(one, priors, reports, graders) for one in (known, fleet))
    assert mixed.care[0, 2] > plain.care[0, 2]
    weighed = np.array(CARE_PRIOR) * told[3]
    np.testing.assert_allclose(mixed.care[3], weighed / weighed.sum())
