"""What always holds of a survey with bargaining after it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.bargaining import NO_BARGAIN, Bargain, after_knowing_all, after_survey
from apps.reckoning.surveying import most_worth, survey_advice
from apps.reckoning.visits import Groups
from tests.reckoning.test_looking import BLUNT, SHARP, decision

seeds = st.integers(0, 2**32 - 1)
chances = st.floats(0, 1)
ROUNDING = 1e-6


def case(seed, draws=200):
    generator = np.random.default_rng(seed)
    cost = generator.gamma(2.0, 1_000.0, draws)
    utility = generator.normal(2_000, 500) - cost - 4 * np.maximum(cost - 3_000, 0)
    findings = generator.integers(0, 12, draws)
    return findings, utility, cost, float(generator.normal(0, 500)), generator


class TestTree:
    @settings(deadline=None)
    @given(seeds, chances, st.floats(0, 10_000))
    def test_it_lies_between_nothing_and_knowing_all(self, seed, chance, most_off):
        findings, utility, cost, other, _ = case(seed)
        bargain = Bargain(chance, most_off)
        found = after_survey(findings, utility, cost, other, bargain)
        assert found.gain >= 0
        everything = after_knowing_all(utility, cost, other, bargain)
        assert found.gain <= everything.gain + ROUNDING
        assert 0 <= found.not_bought <= 1

    @settings(deadline=None)
    @given(seeds, chances, st.floats(0, 10_000))
    def test_more_findings_are_never_worth_less(self, seed, chance, most_off):
        findings, utility, cost, other, generator = case(seed)
        finer = findings * 3 + generator.integers(0, 3, len(findings))
        less, more = (
            after_survey(each, utility, cost, other, Bargain(chance, most_off)).gain
            for each in (findings, finer)
        )
        assert less <= more + ROUNDING

    @settings(deadline=None)
    @given(seeds, chances, chances)
    def test_a_willing_seller_never_makes_it_worth_less(self, seed, one, another):
        findings, utility, cost, other, _ = case(seed)
        low, high = sorted((one, another))
        less, more = (
            after_survey(findings, utility, cost, other, Bargain(p, 5_000.0)) for p in (low, high)
        )
        assert less.gain <= more.gain + ROUNDING
        assert less.not_bought >= more.not_bought - ROUNDING

    @settings(deadline=None)
    @given(seeds)
    def test_findings_that_say_nothing_are_worth_nothing(self, seed):
        """The buyers expected the cost already: there is nothing to ask for."""
        _, utility, cost, other, _ = case(seed)
        nothing = np.zeros(len(utility), dtype=np.intp)
        found = after_survey(nothing, utility, cost, other, Bargain(1.0, 5_000.0))
        assert found.gain == pytest.approx(0, abs=ROUNDING)
        assert found.money_off == pytest.approx(0, abs=ROUNDING)

    @pytest.mark.parametrize("bad", [{"chance": 1.1}, {"chance": -0.1}, {"most_off": -1.0}])
    def test_what_is_no_bargain_is_refused(self, bad):
        with pytest.raises(ValueError, match=next(iter(bad))):
            Bargain(**bad)


class TestSurvey:
    @settings(max_examples=20, deadline=None)
    @given(seeds, chances)
    def test_rules_that_always_hold(self, seed, chance):
        choice, bargain = decision(seed), Bargain(chance, 3_000.0)
        for candidate in range(3):
            plain = survey_advice(choice, candidate, SHARP, fee=500.0, seed=seed).weighed
            found = survey_advice(
                choice, candidate, SHARP, fee=500.0, seed=seed, bargain=bargain
            ).weighed
            assert found.for_choice == pytest.approx(plain.value, abs=ROUNDING)
            assert found.changes_first == plain.changes_first
            assert found.value >= plain.value - ROUNDING
            assert found.not_bought <= plain.not_bought + ROUNDING
            most = max(choice.ceiling, most_worth(choice, candidate, bargain))
            assert found.value <= most + ROUNDING

    @settings(max_examples=10, deadline=None)
    @given(seeds)
    def test_without_a_bargain_it_is_the_value_for_the_choice(self, seed):
        choice = decision(seed)
        for report in (SHARP, BLUNT, None):
            found = survey_advice(choice, 0, report, fee=500.0, seed=seed, bargain=NO_BARGAIN)
            assert found.weighed.value == pytest.approx(found.weighed.for_choice, abs=ROUNDING)
            assert found.weighed.not_bought == pytest.approx(found.weighed.behind)
            assert found.weighed.money_off == 0

    @settings(max_examples=30, deadline=None)
    @given(seeds)
    def test_draws_with_the_same_findings_have_the_same_mean(self, seed):
        generator = np.random.default_rng(seed)
        utility, score = generator.normal(size=400), generator.normal(size=400)
        groups = Groups(score)
        found = groups.findings(utility)
        means = [utility[found == one].mean() for one in range(found.max() + 1)]
        assert means == sorted(means)
        other = 0.2
        informed = np.mean([max(means[one], other) for one in found])
        gain = informed - max(utility.mean(), other)
        assert groups.gain(utility, other) == pytest.approx(max(gain, 0), abs=ROUNDING)
