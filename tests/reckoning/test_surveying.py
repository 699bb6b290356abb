"""The value of a survey now, compared with enumerating all its reports."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.costs import Purchase, expected_costs, moments, simulate
from apps.reckoning.looking import Decision, prospect
from apps.reckoning.surveying import SurveyValue, survey_advice
from tests.reckoning.cost_cases import CARE, NO_ENABLING, fixed, random_belief, random_work, work
from tests.reckoning.test_looking import SHARP, decision

seeds = st.integers(0, 2**32 - 1)
WIDE = 1e9  # a budget that is no limit: expected costs are then exact for every set of reports


def one_boat(seed, lead, checkpoints=3):
    """A boat alone on her list, better than buying none by `lead` on average."""
    generator = np.random.default_rng(seed)
    case = random_work(generator, checkpoints, remedies=checkpoints)
    care, level = random_belief(generator, checkpoints)
    draws = simulate(care, level, case, Purchase(asking=9_000), seed=seed)
    expected = expected_costs(care, level, case, Purchase(asking=9_000))
    valuation = expected.all_in + lead
    boat = prospect(care, level, draws, case, expected, valuation=valuation, budget=WIDE)
    return Decision([boat], budget=WIDE, penalty=0.0), (care, level, case, valuation)


def counted_out(care, level, case, valuation, table):
    """Chance and expected utility of the boat after every set of a surveyor's reports."""
    chances, utilities = [], []
    applies = level.any(axis=(0, 2))
    for reports in product(*[range(5) if on else [None] for on in applies]):
        known, weight = level.copy(), care.copy()
        for checkpoint, k in enumerate(reports):
            if k is not None:
                known[:, checkpoint] *= table[:, k]
                weight = weight * known[:, checkpoint].sum(axis=1)
        if weight.sum() < 1e-12:
            continue
        total = known.sum(axis=2, keepdims=True)
        known = np.divide(known, total, out=np.zeros_like(known), where=total > 0)
        known[:, applies] = np.where(total[:, applies] > 0, known[:, applies], np.eye(5)[0])
        mean = moments(weight / weight.sum(), known, case, Purchase(asking=9_000)).all_in_mean
        chances.append(weight.sum())
        utilities.append(valuation - mean)
    return np.array(chances), np.array(utilities)


class TestWhatASurveyCostsNow:
    @pytest.mark.parametrize("seed", range(5))
    @pytest.mark.parametrize("lead", [-400.0, 150.0, 600.0])
    def test_it_agrees_with_the_tree_of_every_set_of_reports(self, seed, lead):
        """Buy her where she is worth it after the survey; elsewhere its fee is lost."""
        choice, case = one_boat(seed, lead)
        chance, utility = counted_out(*case, SHARP)
        fee, spread = 300.0, utility.std()
        found = survey_advice(choice, 0, SHARP, fee=fee, seed=3).weighed
        lost = float(chance[utility < 0].sum())
        # Reports after which she and buying none are nearly level may fall on either side.
        least, most = (float(chance[utility < edge].sum()) for edge in (-spread / 8, spread / 8))
        assert least - 0.04 <= found.not_bought <= most + 0.04
        assert found.cost == pytest.approx(fee * found.not_bought)
        after = float(chance @ np.maximum(utility, 0)) - fee * lost
        before = max(lead, 0.0)
        assert found.value - found.cost == pytest.approx(after - before, abs=0.06 * spread + 20)

    @pytest.mark.parametrize("seed", range(5))
    def test_a_fee_that_is_spent_already_would_change_little(self, seed):
        """What is left out: then she is bought up to the fee behind the next best."""
        _, case = one_boat(seed, 150.0)
        chance, utility = counted_out(*case, SHARP)
        fee = 300.0
        plain = chance @ np.maximum(utility, 0) - fee * chance[utility < 0].sum()
        in_full = chance @ np.maximum(utility, -fee)
        between = chance[(utility < 0) & (utility > -fee)].sum()
        assert 0 <= in_full - plain <= fee * between + 1e-9

    def test_by_hand(self):
        """A keel that is failed on one boat in four: then she is not worth buying."""
        case = work(fixed(8_000), NO_ENABLING, [(0, 0, [0, 0, 0, 0, 1], 1)])
        level = np.tile([0.75, 0, 0, 0, 0.25], (3, 1, 1))
        purchase = Purchase(asking=5_000, fixed=1_200)
        draws = simulate(CARE, level, case, purchase, seed=1)
        expected = expected_costs(CARE, level, case, purchase)
        boat = prospect(CARE, level, draws, case, expected, valuation=9_200.0, budget=WIDE)
        choice = Decision([boat], budget=WIDE, penalty=0.0)
        found = survey_advice(choice, 0, None, fee=1_200.0, seed=1).weighed
        # Ahead by 3,000 if sound, behind by 5,000 if failed: 1,000 on average.
        assert found.comes_first
        assert found.not_bought == pytest.approx(0.25, abs=0.01)
        assert found.cost == pytest.approx(300, abs=12)  # a quarter of the fee, not all of it
        assert found.value == pytest.approx(0.25 * 5_000, rel=0.02)
        assert found.pays_now

    def test_one_that_is_bought_anyway_costs_nothing_and_changes_nothing(self):
        found = survey_advice(one_boat(1, 1e6)[0], 0, SHARP, fee=900.0, seed=1)
        assert (found.weighed.not_bought, found.weighed.cost) == (0, 0)
        assert found.weighed.changes_first == 0
        assert not found.weighed.pays_now
        assert found.cut_needed is None  # nobody wants her dearer

    def test_one_that_is_never_bought_costs_all_of_the_fee(self):
        found = survey_advice(one_boat(1, -1e6)[0], 0, SHARP, fee=900.0, seed=1).weighed
        assert (found.not_bought, found.cost, found.changes_first) == (1, 900, 0)
        assert not found.pays_now

    @given(seeds, st.floats(0, 3_000))
    @settings(max_examples=25, deadline=None)
    def test_rules_that_always_hold(self, seed, fee):
        choice = decision(seed)
        for candidate in range(3):
            found = survey_advice(choice, candidate, SHARP, fee=fee, seed=seed).weighed
            assert 0 <= found.not_bought <= 1
            assert 0 <= found.cost <= fee
            assert 0 <= found.value <= choice.ceiling + 1e-6
            assert found.comes_first == (choice.expected[candidate] >= choice.other[candidate])
            free = survey_advice(choice, candidate, SHARP, fee=0.0, seed=seed).weighed
            assert (free.value, free.not_bought) == (found.value, found.not_bought)


def weighed(value, *, fee, not_bought, comes_first):
    """A survey after which nothing is asked of the seller."""
    return SurveyValue(value, value, fee, not_bought, not_bought, 0.0, comes_first)


class TestWeighed:
    @pytest.mark.parametrize(
        ("valuation", "first", "pays"),
        [(300.0, True, True), (299.0, True, False), (700.0, False, True), (0.0, False, False)],
    )
    def test_it_pays_where_it_is_worth_what_it_costs(self, valuation, first, pays):
        found = weighed(valuation, fee=1_200.0, not_bought=0.25, comes_first=first)
        assert found.cost == 300
        assert found.changes_first == (0.25 if first else 0.75)
        assert found.pays_now is pays

    def test_a_survey_that_changes_nothing_does_not(self):
        assert not weighed(0.0, fee=900.0, not_bought=0.0, comes_first=True).pays_now
        assert not weighed(0.0, fee=0.0, not_bought=1.0, comes_first=False).pays_now

    def test_one_that_may_lower_the_price_of_a_boat_that_is_bought_anyway_pays(self):
        found = weighed(400.0, fee=900.0, not_bought=0.0, comes_first=True)
        assert replace(found, for_choice=0.0, money_off=400.0).pays_now


class TestCutNeeded:
    def test_behind_it_names_the_price_from_which_it_pays(self):
        choice, _ = one_boat(2, -4_000.0, checkpoints=8)
        fee = 1_500.0
        found = survey_advice(choice, 0, SHARP, fee=fee, seed=5)
        assert not found.weighed.pays_now
        assert 0 < found.cut_needed < 4_000
        findings = choice.findings(0, np.ones(8, bool), SHARP, seed=5)
        for cut, pays in ((found.cut_needed, True), (0.98 * found.cut_needed, False)):
            cheaper = choice.utility[0] + cut
            lost = fee * findings.behind(cheaper, 0.0)
            assert (findings.gain(cheaper, 0.0) >= lost) is pays

    def test_none_is_needed_where_it_pays(self):
        found = survey_advice(one_boat(2, -1.0, checkpoints=8)[0], 0, SHARP, fee=50.0, seed=5)
        assert found.weighed.pays_now
        assert found.cut_needed == 0

    def test_no_price_makes_a_fee_beyond_all_findings_pay(self):
        found = survey_advice(one_boat(2, -500.0)[0], 0, SHARP, fee=1e6, seed=5)
        assert found.cut_needed is None

    def test_of_the_best_boat_none_is_told(self):
        found = survey_advice(one_boat(2, 500.0)[0], 0, SHARP, fee=1e6, seed=5)
        assert not found.weighed.pays_now
        assert found.cut_needed is None


@pytest.mark.parametrize("fee", [-1.0, np.nan])
def test_a_fee_that_is_none_is_refused(fee):
    with pytest.raises(ValueError, match="fee: is negative"):
        survey_advice(decision(1), 0, SHARP, fee=fee, seed=1)


@pytest.mark.parametrize(("amount", "may"), [(2_700.0, True), (2_701.0, False), (0.0, True)])
def test_how_much_a_seller_may_be_asked_for(amount, may):
    """Three tenths of the asking price: project's own estimate."""
    assert Purchase(asking=9_000).may_be_cut_by(amount) is may
