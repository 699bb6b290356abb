"""What looks are worth against published cases of the value of information.

- Goferbroke Co.: Hillier & Lieberman, Introduction to Operations Research (its values are asserted
  by a public test suite, read there).
- Oil wildcatter: Raiffa (1968), Decision Analysis (from memory; an independent influence-diagram
  library gives the same 32.5 and 22.5).
- Shale gas: Kaminski, Jakubczyk & Szufel (2018), CEJOR 26, 135-159, Fig. 7; R package rdecision,
  vignette DT03 (read). There the price of selling moves with the result of the test, which a
  candidate's rivals do not do here, so its branches are checked and its test is not.
- Normal linear model: R package voi, vignette: EVPI 0.4798107 (read); the other figures are exact
  by the unit normal loss integral of Raiffa & Schlaifer (1961).
- Expected maximum of 2, 3 and 4 standard normals: Tippett (1925), Biometrika 17, 364-387 (from
  memory; .5642 is 1 / sqrt(pi)).
- Nineteen parameters: Brennan et al. (2007), Medical Decision Making 27, 448-470 (model table from
  memory); figures computed with exact conditional means over 4,000,000 draws, s.e. at most 1. Those
  of sets of parameters agree with the published 248, 536 and 841; which is which is inferred.

A decision to drill is put as one candidate with one checkpoint, whose levels are the states.
"""

import numpy as np
import pytest
from scipy.special import ndtri

from apps.reckoning.conditional import ByLevel
from apps.reckoning.looking import Decision, Prospect
from apps.reckoning.visits import Groups
from tests.reckoning.drawn import cost_of_draws

CARE = np.array([0.25, 0.50, 0.25])  # says nothing of the state here
DRAWS = 10_000


def candidate(prior, payoff):
    """A candidate whose payoff over buying none hangs on one checkpoint of some states."""
    unused = 5 - len(prior)
    level = np.tile(np.append(prior, np.zeros(unused)), (3, 1, 1))
    cost = -np.append(payoff, np.zeros(unused)).astype(float)
    table = np.tile(cost, (1, 3, 1))
    states = np.repeat(np.arange(len(prior)), np.rint(np.array(prior) * DRAWS).astype(int))
    states = np.random.default_rng(1).permutation(states)
    return Prospect(
        care=CARE,
        level_given_care=level,
        table=ByLevel(all_in=table, overrun=np.zeros_like(table), within=np.ones_like(table)),
        level=states.astype(np.int8)[None],
        graders=np.zeros_like(states),
        outcome=np.arange(len(states)),
        cost=cost_of_draws(cost[states], cost[states]),
        valuation=0.0,
    )


def without_checkpoints(all_in, valuation=0.0):
    """A candidate whose draws of the all-in cost are given."""
    empty = np.zeros((1, 3, 5))
    level = np.eye(5)[None, None, 0].repeat(3, 0)
    none = np.zeros((1, len(all_in)), np.int8)
    return Prospect(
        care=CARE,
        level_given_care=level,
        table=ByLevel(empty, empty, empty),
        level=none,
        graders=np.zeros(len(all_in), np.intp),
        outcome=np.arange(len(all_in)),
        cost=cost_of_draws(all_in, all_in),
        valuation=valuation,
    )


def decision(*candidates):
    return Decision(candidates, budget=np.inf, penalty=0.0)


def report(likelihood):
    """P(signal | state) of each signal, as a table over the five levels."""
    table = np.zeros((5, 5))
    states = np.array(likelihood).T
    table[: len(states), : states.shape[1]] = states
    table[len(states) :, 0] = 1.0  # states that do not occur
    return table


class TestGoferbroke:
    prior, sell = [0.25, 0.75], 90
    drill = decision(candidate(prior, np.array([700, -100]) - sell))
    survey = report([[0.6, 0.2], [0.4, 0.8]])  # favourable, unfavourable soundings

    def test_expected_value_of_drilling(self):
        assert self.drill.expected[0] + self.sell == pytest.approx(100)

    def test_perfect_information(self):
        assert self.drill.perfect[0, 0] == pytest.approx(142.5)
        assert self.drill.ceiling == pytest.approx(142.5)

    def test_seismic_survey(self):
        gain = self.drill.checks(self.survey)[0, 0]
        assert gain == pytest.approx(53)
        assert 100 + gain == pytest.approx(153)
        assert 100 + gain - 30 == pytest.approx(123)  # the survey costs 30

    def test_the_survey_as_a_visit(self):
        gain = self.drill.visit(0, np.ones(1, bool), self.survey, seed=1)
        assert gain == pytest.approx(53, abs=6)  # 10,000 simulated soundings


class TestWildcatter:
    drill = decision(candidate([0.5, 0.3, 0.2], [-70, 50, 200]))
    sounding = report([[0.6, 0.3, 0.1], [0.3, 0.4, 0.4], [0.1, 0.3, 0.5]])

    def test_expected_value_and_perfect_information(self):
        assert self.drill.expected[0] == pytest.approx(20)
        assert self.drill.perfect[0, 0] == pytest.approx(35)
        assert self.drill.ceiling == pytest.approx(35)

    def test_sounding(self):
        gain = self.drill.checks(self.sounding)[0, 0]
        assert gain == pytest.approx(12.5)
        assert 20 + gain - 10 == pytest.approx(22.5)  # the sounding costs 10
        assert self.drill.visit(0, np.ones(1, bool), self.sounding, seed=1) == pytest.approx(
            12.5, abs=1.5
        )


class TestShaleGas:
    gas, sensitivity, specificity = 0.7, 0.9, 0.7

    def value(self, sell_if_positive, sell_if_negative):
        """Test for 50, then dig (None) or sell at what the result leaves of the price."""
        positive = self.gas * self.sensitivity + (1 - self.gas) * (1 - self.specificity)
        states = np.array([self.gas * self.sensitivity / positive,
                           self.gas * (1 - self.sensitivity) / (1 - positive)])  # fmt: skip
        chance = np.array([positive, 1 - positive])
        dig = [decision(candidate([p, 1 - p], [2200, -300])).by_level[0, 0, 0] for p in states]
        ends = [
            branch[:2] @ [p, 1 - p] if sell is None else sell
            for branch, p, sell in zip(dig, states, (sell_if_positive, sell_if_negative),
                                       strict=True)
        ]  # fmt: skip
        return chance @ ends - 50

    def test_digging_or_selling_at_once(self):
        choice = decision(candidate([0.7, 0.3], [2200, -300]), candidate([1.0], [800]))
        assert choice.expected == pytest.approx([1450, 800])
        assert choice.other == pytest.approx([800, 1450])

    @pytest.mark.parametrize(
        ("positive", "negative", "printed"),
        [(None, None, 1400), (1000, None, 761), (None, 600, 1477), (1000, 600, 838)],
    )
    def test_branches_of_the_tree(self, positive, negative, printed):
        assert self.value(positive, negative) == pytest.approx(printed, abs=0.5)

    def test_a_test_that_leaves_the_price_alone_is_worth_less_than_knowing(self):
        choice = decision(candidate([0.7, 0.3], [2200, -300]), candidate([1.0], [800]))
        result = report([[self.sensitivity, 1 - self.specificity],
                         [1 - self.sensitivity, self.specificity]])  # fmt: skip
        # Sell if negative: 0.72 * digging when positive + 0.28 * 800 less 1450.
        by_hand = (0.63 * 2200 - 0.09 * 300) + 0.28 * 800 - 1450
        assert choice.checks(result)[0, 0] == pytest.approx(by_hand)
        assert choice.perfect[0, 0] == pytest.approx(0.3 * (800 + 300))


class TestNormalLinearModel:
    """NB1 = 0, NB2 = p1 - p2 with p1 ~ N(1, 1) and p2 ~ N(0, sd 2)."""

    count = 200_000
    # Every value of p1, in order; p2 in a random order; observations of p1 with sd 1.
    p1 = 1 + ndtri((np.arange(count) + 0.5) / count)
    p2 = 2 * np.random.default_rng(1).permutation(ndtri((np.arange(count) + 0.5) / count))
    noise = np.random.default_rng(2).permutation(ndtri((np.arange(count) + 0.5) / count))

    @pytest.mark.parametrize(
        ("k", "exact"), [(1, 0.4798107063), (2, 0.3992824567), (3, 0.4094634160)]
    )
    def test_perfect_information(self, k, exact):
        """Net benefit k p1 - p2, against none."""
        choice = decision(without_checkpoints(self.p2 - k * self.p1))
        assert choice.ceiling == pytest.approx(exact, abs=0.004)

    def test_partial_perfect_information(self):
        utility = self.p1 - self.p2
        assert Groups(self.p1).gain(utility, 0.0) == pytest.approx(0.0833154706, abs=0.004)
        assert Groups(-self.p2).gain(utility, 0.0) == pytest.approx(0.3955931148, abs=0.004)

    @pytest.mark.parametrize(
        ("observations", "exact"),
        [
            (1, 0.0251272708),
            (5, 0.0632069248),
            (10, 0.0723251203),
            (100, 0.0821176056),
            (1000, 0.0831946061),
        ],
    )
    def test_samples(self, observations, exact):
        seen = self.p1 + self.noise / np.sqrt(observations)
        gain = Groups(seen).gain(self.p1 - self.p2, 0.0)
        assert gain == pytest.approx(exact, abs=0.004)

    @pytest.mark.parametrize(
        ("centre", "loss"), [(0, 0.39894), (0.5, 0.1978), (1, 0.08332), (2, 0.00849)]
    )
    def test_unit_normal_loss(self, centre, loss):
        standard = self.p1 - 1
        assert Groups(standard).gain(standard, float(centre)) == pytest.approx(loss, abs=2e-5)


@pytest.mark.parametrize(("count", "printed"), [(2, 0.5642), (3, 0.8463), (4, 1.0294)])
def test_expected_maximum_of_standard_normals(count, printed):
    """Candidates alike, each worth 10 give or take 1: knowing all gains the expected maximum."""
    normal = ndtri((np.arange(200_000) + 0.5) / 200_000)
    shuffled = [np.random.default_rng(seed).permutation(normal) for seed in range(count)]
    choice = decision(*(without_checkpoints(-draws, valuation=10.0) for draws in shuffled))
    assert choice.value == pytest.approx(10)
    assert choice.ceiling == pytest.approx(printed, abs=0.004)


def test_nineteen_parameters():
    mean = [1000, 0.1, 5.2, 400, 0.7, 0.3, 3, 0.25, -0.1, 0.5]
    mean += [1500, 0.08, 6.1, 0.8, 0.3, 3, 0.2, -0.1, 0.5]
    sd = [1, 0.02, 1, 200, 0.1, 0.1, 0.5, 0.1, 0.02, 0.2]
    sd += [1, 0.02, 1, 0.1, 0.05, 1, 0.05, 0.02, 0.2]
    correlation = np.eye(19)
    for a, b in [(5, 7), (5, 14), (5, 16), (7, 14), (7, 16), (14, 16), (6, 15)]:
        correlation[a - 1, b - 1] = correlation[b - 1, a - 1] = 0.6
    draws = np.random.default_rng(3).multivariate_normal(
        mean, correlation * np.outer(sd, sd), 400_000
    )
    x = [None, *draws.T]
    first = 1e4 * (x[5] * x[6] * x[7] + x[8] * x[9] * x[10]) - (x[1] + x[2] * x[3] * x[4])
    second = 1e4 * (x[14] * x[15] * x[16] + x[17] * x[18] * x[19])
    second -= x[11] + x[12] * x[13] * x[4]
    assert [first.mean(), second.mean()] == pytest.approx([5056.874, 5584.800], abs=20)
    lead = first - second  # of the first treatment; the second is the other option, at 0
    assert Groups(lead).gain(lead, 0.0) == pytest.approx(843.5, abs=12)
    assert Groups(-x[14]).gain(lead, 0.0) == pytest.approx(230.6, abs=12)
    assert Groups(-x[16]).gain(lead, 0.0) == pytest.approx(460.3, abs=12)
    assert Groups(x[6]).gain(lead, 0.0) == pytest.approx(331.0, abs=12)
    # Of sets: x5, x7, x14 and x16 go together, so the others of them follow as far as known.
    centred = (draws - mean).T
    of = np.array([5, 7, 14, 16]) - 1
    covariance = (correlation * np.outer(sd, sd))[np.ix_(of, of)]

    def followed(wanted, known):
        """E[x_wanted | x_known] of (5, 7, 14, 16), by the normal distribution's regression."""
        where = [list(of + 1).index(index) for index in (wanted, *known)]
        among = covariance[np.ix_(where, where)]
        slope = np.linalg.solve(among[1:, 1:], among[1:, 0])
        return mean[wanted - 1] + slope @ centred[[index - 1 for index in known]]

    def gain_of(first_part, second_part):
        return Groups(first_part - second_part).gain(lead, 0.0)

    seven, sixteen = followed(7, (5, 14)), followed(16, (5, 14))
    by_5_14 = gain_of(x[5] * mean[5] * seven, x[14] * mean[14] * sixteen)
    five, fourteen = followed(5, (7, 16)), followed(14, (7, 16))
    by_7_16 = gain_of(five * mean[5] * x[7], fourteen * mean[14] * x[16])
    by_all = gain_of(x[5] * x[6] * x[7], x[14] * x[15] * x[16])
    assert by_5_14 == pytest.approx(247.8, abs=12)
    assert by_7_16 == pytest.approx(536.2, abs=12)
    assert by_all == pytest.approx(840.9, abs=12)
