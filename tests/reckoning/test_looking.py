"""The value of a look: by hand, by exact conditioning, and by general rules."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtri

from apps.reckoning.conditional import by_level
from apps.reckoning.costs import Purchase, expected_costs, moments, simulate
from apps.reckoning.levels import discretised_normal
from apps.reckoning.looking import Decision, prospect
from apps.reckoning.surveying import survey_advice
from apps.reckoning.utility import regretted_surplus
from apps.reckoning.visits import Groups, Visitor, reports_by, reports_of
from tests.reckoning.cost_cases import (
    CARE,
    NO_ENABLING,
    fixed,
    levels,
    random_belief,
    random_purchase,
    random_work,
    work,
)

seeds = st.integers(0, 2**32 - 1)
BUDGET = 30_000.0
CHEAP = Purchase(asking=5_000)
# Reports rounded from the level plus a normal error, of a sharp and of a blunt grader.
SHARP, BLUNT = (discretised_normal(np.arange(5.0), sd) for sd in (0.3, 1.0))


def boat(generator, checkpoints=5, **options):
    """A random boat: belief, draws, work, purchase."""
    case, purchase = random_work(generator, checkpoints, **options), random_purchase(generator)
    care, level = random_belief(generator, checkpoints)
    seed = int(generator.integers(2**32))
    return care, level, simulate(care, level, case, purchase, seed=seed), case, purchase


def candidate(care, level, draws, case, purchase, **options):
    expected = expected_costs(care, level, case, purchase)
    return prospect(care, level, draws, case, expected, **options)


def table_of(care, level, draws, case, purchase):
    return by_level(draws, care, level, case, expected_costs(care, level, case, purchase), BUDGET)


def decision(seed, *, boats=3, penalty=4.0, checkpoints=5):
    """A random list whose candidates are near enough to one another for looks to matter."""
    generator = np.random.default_rng(seed)
    prospects = []
    for _ in range(boats):
        care, level, draws, case, purchase = boat(generator, checkpoints)
        valuation = float(draws.all_in.mean() + generator.normal(2_000, 2_000))
        prospects.append(
            candidate(care, level, draws, case, purchase, valuation=valuation, budget=BUDGET)
        )
    return Decision(prospects, budget=BUDGET, penalty=penalty)


SHARES = np.full(2, 0.5)


def visitor(by_draw, guess=None):
    """From two draws of the graders with equal weights."""
    return Visitor(by_draw, by_draw if guess is None else guess, SHARES)


def random_table(generator):
    return generator.dirichlet(np.ones(5), 5)


class TestTableByLevel:
    @given(seeds)
    @settings(max_examples=25, deadline=None)
    def test_a_level_costs_what_exact_conditioning_says(self, seed):
        generator = np.random.default_rng(seed)
        care, level, draws, case, purchase = boat(generator)
        table = table_of(care, level, draws, case, purchase)
        for checkpoint, t in product(range(5), range(5)):
            if not level[:, checkpoint].any():
                continue
            known = level.copy()
            known[:, checkpoint] = np.eye(5)[t]
            for c in range(3):
                exact = moments(np.eye(3)[c], known, case, purchase)
                assert table.all_in[checkpoint, c, t] == pytest.approx(exact.all_in_mean)

    @given(seeds)
    @settings(max_examples=15, deadline=None)
    def test_swapping_agrees_with_a_plain_recount_of_every_draw(self, seed):
        """Redo the recount draw by draw, with calls averaged over instead of enumerated."""
        generator = np.random.default_rng(seed)
        care, level, draws, case, purchase = boat(generator, checkpoints=3, remedies=3)
        table = table_of(care, level, draws, case, purchase)
        c = int(np.argmax(care))
        part = draws.care == c
        links = np.flatnonzero(case.link_checkpoint == 0)
        others = np.flatnonzero(case.link_checkpoint != 0)
        for t in range(5):
            total = np.zeros(2)
            for triggers in product([0, 1], repeat=len(links)):
                chance = np.prod(
                    [case.chance[x, t] if on else 1 - case.chance[x, t]
                     for x, on in zip(links, triggers, strict=True)]
                )  # fmt: skip
                extent = np.zeros((3, part.sum()))
                for link in others:
                    row = extent[case.link_remedy[link]]
                    np.maximum(row, draws.asked[link, part], out=row)
                for link, on in zip(links, triggers, strict=True):
                    row = extent[case.link_remedy[link]]
                    np.maximum(row, on * case.extent[link, t], out=row)
                urgent = (extent > 0)[case.now]
                needed = (case.needs[case.now][:, :, None] & urgent[:, None]).any(axis=0)
                upfront = (
                    draws.price[part] * (1 + purchase.tax_rate) + purchase.fixed + purchase.reserve
                    + (draws.remedy_price[case.now][:, part] * extent[case.now]).sum(axis=0)
                    + (draws.enabling_price[:, part] * needed).sum(axis=0)
                )  # fmt: skip
                total += chance * np.array(
                    [np.maximum(upfront - BUDGET, 0).mean(), (upfront <= BUDGET).mean()]
                )
            found = [each[0, c, t] for each in (table.overrun, table.within)]
            # Single precision: a draw within 0.01 of the budget may fall on either side.
            assert found == pytest.approx(total, rel=1e-4, abs=0.1)

    def test_a_checkpoint_that_calls_for_nothing_changes_only_the_care_class(self):
        case = work(fixed(1_000), NO_ENABLING, [(0, 0, [0, 0, 0, 1, 1], 1)])
        level = levels([1, 1])
        draws = simulate(CARE, level, case, CHEAP, seed=1)
        table = table_of(CARE, level, draws, case, CHEAP)
        assert np.ptp(table.all_in[1], axis=1).max() < 1e-6
        assert table.all_in[1, 2, 0] > table.all_in[1, 0, 0]


class TestOneCheck:
    @given(seeds)
    @settings(max_examples=15, deadline=None)
    def test_without_regret_the_gain_has_a_closed_form(self, seed):
        """lambda = 0: E[U | t] = worth - E[all-in | t], exact from the moments."""
        generator = np.random.default_rng(seed)
        care, level, draws, case, purchase = boat(generator)
        exact = moments(care, level, case, purchase)
        valuation = exact.all_in_mean + 100.0
        choice = Decision(
            [candidate(care, level, draws, case, purchase, valuation=valuation, budget=BUDGET)],
            budget=BUDGET,
            penalty=0.0,
        )
        error = exact.all_in_sd / np.sqrt(len(draws))
        for checkpoint in range(5):
            joint = care[:, None] * level[:, checkpoint]
            chance, gain = joint.sum(axis=0), 0.0
            for t in np.flatnonzero(chance):
                known = level.copy()
                known[:, checkpoint] = np.eye(5)[t]
                mean = moments(joint[:, t] / chance[t], known, case, purchase).all_in_mean
                gain += chance[t] * max(valuation - mean, 0.0)
            gain -= max(valuation - exact.all_in_mean, 0.0) if chance.any() else 0.0
            assert choice.perfect[0, checkpoint] == pytest.approx(gain, abs=6 * error + 1)

    def test_with_regret_it_agrees_with_grouping_very_many_draws(self):
        """Brute force: E[U | t] as the mean of those of 400,000 draws that have level t."""
        for seed in range(4):
            generator = np.random.default_rng(seed)
            care, level, draws, case, purchase = boat(generator, checkpoints=4)
            many = simulate(care, level, case, purchase, seed=seed, draws=400_000)
            budget, valuation = float(np.median(many.upfront)), float(many.all_in.mean()) + 2_000
            choice = Decision(
                [candidate(care, level, draws, case, purchase, valuation=valuation, budget=budget)],
                budget=budget,
                penalty=4.0,
            )
            utility = regretted_surplus(valuation, many.all_in, many.upfront, budget, 4.0)
            spread = utility.std() / np.sqrt(len(draws))
            for checkpoint in np.flatnonzero(level.any(axis=(0, 2))):
                at = many.level[checkpoint]
                count = np.bincount(at, minlength=5)
                total = np.bincount(at, weights=utility, minlength=5)
                gain = (np.maximum(total, 0).sum() - max(utility.sum(), 0)) / count.sum()
                assert choice.perfect[0, checkpoint] == pytest.approx(gain, abs=4 * spread + 1)

    def test_one_boat_one_checkpoint_by_hand(self):
        case = work(fixed(1_000), NO_ENABLING, [(0, 0, [0, 0, 0, 0, 1], 1)])
        level = np.tile([0.75, 0, 0, 0, 0.25], (3, 1, 1))
        draws = simulate(CARE, level, case, CHEAP, seed=1)
        choice = Decision(
            [candidate(CARE, level, draws, case, CHEAP, valuation=5_400.0, budget=BUDGET)],
            budget=BUDGET,
            penalty=4.0,
        )
        # Go on: 400 if sound, -600 if failed. Knowing saves the 600 a quarter of the time.
        assert choice.perfect[0, 0] == pytest.approx(0.25 * 600, rel=1e-3)
        assert choice.ceiling == pytest.approx(0.25 * 600, rel=0.1)

    def test_a_look_that_cannot_change_the_choice_is_worth_nothing(self):
        generator = np.random.default_rng(4)
        care, level, draws, case, purchase = boat(generator)
        hopeless = candidate(care, level, draws, case, purchase, valuation=-1e6, budget=BUDGET)
        splendid = candidate(care, level, draws, case, purchase, valuation=1e6, budget=1e6)
        perfect = Decision([hopeless, splendid], budget=1e6, penalty=4.0).perfect
        assert perfect.max() == pytest.approx(0, abs=1e-6)

    def test_a_check_on_one_thing_says_something_of_the_care_of_all(self):
        """A checkpoint with no remedy of its own is worth a look for what it says of the boat."""
        case = work(fixed(9_000), NO_ENABLING, [(0, 0, [0, 0, 0.5, 1, 1], 1)])
        level = levels([1.2, 1.2], care=1.5)
        draws = simulate(CARE, level, case, CHEAP, seed=1)
        valuation = float(draws.all_in.mean())
        choice = Decision(
            [candidate(CARE, level, draws, case, CHEAP, valuation=valuation, budget=BUDGET)],
            budget=BUDGET,
            penalty=0.0,
        )
        assert choice.perfect[0, 1] > 100

    def test_a_checkpoint_that_does_not_apply_is_worth_nothing(self):
        generator = np.random.default_rng(3)
        case, purchase = random_work(generator, 5), random_purchase(generator)
        care, level = random_belief(generator, 5)
        level[:, 2] = 0
        draws = simulate(care, level, case, purchase, seed=1)
        valuation = float(draws.all_in.mean())
        one = candidate(care, level, draws, case, purchase, valuation=valuation, budget=BUDGET)
        choice = Decision([one],
                          budget=BUDGET, penalty=4.0)  # fmt: skip
        assert choice.perfect[0, 2] == 0
        assert choice.checks(SHARP)[0, 2] == 0


class TestRulesThatAlwaysHold:
    @given(seeds, st.sampled_from([0.0, 1.0, 4.0]))
    @settings(max_examples=30, deadline=None)
    def test_a_report_is_worth_nought_or_more_and_no_more_than_the_truth(self, seed, penalty):
        choice = decision(seed, penalty=penalty)
        table = random_table(np.random.default_rng(seed))
        assert np.all(choice.checks(table) >= 0)
        assert np.all(choice.checks(table) <= choice.perfect + 1e-6)
        assert np.all(choice.perfect <= choice.ceiling + 1e-6)

    @given(seeds)
    @settings(max_examples=30, deadline=None)
    def test_a_garbled_report_is_never_worth_more(self, seed):
        choice = decision(seed)
        generator = np.random.default_rng(seed)
        table, garbling = random_table(generator), random_table(generator)
        assert np.all(choice.checks(table @ garbling) <= choice.checks(table) + 1e-6)

    @given(seeds)
    @settings(max_examples=20, deadline=None)
    def test_a_visit_lies_between_its_best_check_and_everything(self, seed):
        choice = decision(seed)
        generator = np.random.default_rng(seed)
        among = generator.random(5) < 0.6
        for candidate in range(3):
            valuation = choice.visit(candidate, among, SHARP, seed=seed)
            best = choice.checks(SHARP)[candidate, among].max(initial=0.0)
            assert best <= valuation <= choice.everything(candidate) + 1e-6
            assert choice.everything(candidate) <= choice.ceiling + 1e-6

    @given(seeds)
    @settings(max_examples=20, deadline=None)
    def test_a_kind_of_visit_that_allows_more_is_worth_no_less(self, seed):
        choice = decision(seed)
        generator = np.random.default_rng(seed)
        some = generator.random((3, 1, 5)) < 0.4
        more = some | (generator.random((3, 1, 5)) < 0.4)
        for candidate in range(3):
            kinds = np.concatenate([some[candidate], more[candidate], np.ones((1, 5), bool)])
            valuation = choice.visits(candidate, kinds, BLUNT, seed=seed)
            assert np.all(np.diff(valuation) >= 0)
            assert valuation.max() <= choice.ceiling + 1e-6
            survey = survey_advice(choice, candidate, SHARP, fee=500.0, seed=seed).weighed
            assert survey.value <= choice.ceiling + 1e-6

    @given(seeds, st.floats(-5_000, 5_000))
    @settings(max_examples=30, deadline=None)
    def test_a_score_is_worth_no_more_than_the_outcome_itself(self, seed, other):
        generator = np.random.default_rng(seed)
        utility = generator.normal(0, 3_000, 2_048)
        score = utility + generator.normal(0, 4_000, 2_048)
        gain = Groups(score).gain(utility, other)
        most = np.maximum(utility, other).mean() - max(utility.mean(), other)
        assert 0 <= gain <= most + 1e-9

    @given(seeds)
    @settings(max_examples=10, deadline=None)
    def test_relabelling_candidates_relabels_what_looks_are_worth(self, seed):
        choice = decision(seed)
        order = np.random.default_rng(seed).permutation(3)
        moved = Decision(
            [choice.prospects[k] for k in order], budget=BUDGET, penalty=choice.penalty
        )
        assert np.allclose(moved.perfect, choice.perfect[order])
        assert moved.ceiling == pytest.approx(choice.ceiling)


class TestBoatsSideBySide:
    """Boats compared draw by draw; knowledge of one says nothing about another."""

    @given(seeds)
    @settings(max_examples=15, deadline=None)
    def test_the_ceiling_is_that_of_boats_whose_care_has_nothing_to_do_with_one_another(self, seed):
        """Costs that hang on care alone: EVPI by hand over all pairs of classes."""
        generator = np.random.default_rng(seed)
        prospects, chances, payoffs = [], [], []
        for n in range(2):
            care, cost = generator.dirichlet(np.ones(3)), generator.uniform(0, 9_000, 3)
            level = np.eye(5)[:3][:, None]  # the level tells the class
            triggers = [(0, k, np.eye(5)[k], 1) for k in range(3)]
            case = work(fixed(*cost), NO_ENABLING, triggers)
            draws = simulate(care, level, case, CHEAP, seed=int(generator.integers(2**32)) + n)
            valuation = 5_000 + float(care @ cost) + float(generator.uniform(-500, 2_000))
            prospects.append(
                candidate(care, level, draws, case, CHEAP, valuation=valuation, budget=BUDGET)
            )
            chances.append(care)
            payoffs.append(valuation - 5_000 - cost)
        choice = Decision(prospects, budget=BUDGET, penalty=4.0)
        best = np.maximum(np.maximum.outer(payoffs[0], payoffs[1]), 0.0)
        known = float(np.einsum("c,d,cd->", *chances, best))
        plain = max(0.0, *(float(p @ u) for p, u in zip(chances, payoffs, strict=True)))
        # 8,192 draws in which each class has its share to within one draw.
        assert choice.ceiling == pytest.approx(known - plain, rel=0.05, abs=60)

    def test_equal_boats_are_worth_knowing_apart(self):
        """If both had the same care, knowing more would not separate them."""
        case = work(fixed(9_000), NO_ENABLING, [(0, 0, [0, 0, 0, 0, 1], 1)])
        level = np.stack([np.eye(5)[[0]], np.eye(5)[[0]], np.eye(5)[[4]]])
        alike = [
            candidate(CARE, level, simulate(CARE, level, case, CHEAP, seed=seed), case, CHEAP,
                      valuation=20_000.0, budget=BUDGET)
            for seed in (1, 2)
        ]  # fmt: skip
        # One in four is failed and costs 9,000: with two, both are in one of sixteen.
        by_hand = 9_000 * (1 / 4 - 1 / 16)
        assert Decision(alike, budget=BUDGET, penalty=4.0).ceiling == pytest.approx(
            by_hand, rel=0.03
        )

    def test_the_yard_rate_of_the_year_is_the_same_for_all(self):
        """Only the cost of labour is unknown for these."""
        case = work(fixed(9_000), NO_ENABLING, [(0, 0, [1] * 5, 1)])
        case = replace(case, remedies=replace(case.remedies, labour_share=np.ones(1)))
        level = np.eye(5)[None, [1]].repeat(3, axis=0)
        alike = [
            candidate(CARE, level, simulate(CARE, level, case, CHEAP, seed=seed), case, CHEAP,
                      valuation=1e6, budget=1e6)
            for seed in (1, 2, 3)
        ]  # fmt: skip
        beside = Decision(alike, budget=1e6, penalty=4.0).utility
        assert beside[0].std() > 1_000
        assert np.allclose(beside[1:], beside[0], atol=1.0)


class TestGroups:
    utility = 1_000 * ndtri((np.arange(8_192) + 0.5) / 8_192)

    def test_a_score_that_tells_all_is_worth_what_the_outcome_is(self):
        for other in (-1_300.0, 0.0, 500.0):
            known = np.maximum(self.utility, other).mean() - max(0.0, other)
            assert Groups(self.utility).gain(self.utility, other) == pytest.approx(known, abs=0.1)

    def test_a_score_that_tells_nothing_is_worth_next_to_nothing(self):
        for seed in range(5):
            noise = np.random.default_rng(seed).random(8_192)
            assert Groups(noise).gain(self.utility, 0.0) < 0.04 * 1_000

    def test_draws_with_the_same_score_are_never_told_apart(self):
        score = (self.utility > 200).astype(float)
        part = (self.utility > 200).mean()
        above = self.utility[self.utility > 200].mean()
        gain = Groups(score).gain(self.utility, 300.0)
        assert gain == pytest.approx(part * (above - 300))
        assert Groups(np.zeros(8_192)).gain(self.utility, 0.0) == pytest.approx(0, abs=1e-9)


class TestVisit:
    def test_seeing_every_level_is_seeing_everything_where_nothing_else_is_in_doubt(self):
        triggers = [(j, j, [0, 0, 0, 1, 1], 1) for j in range(3)]
        case = work(fixed(900, 1_300, 2_900), NO_ENABLING, triggers)
        level = levels([1.5, 2.0, 2.5])
        draws = simulate(CARE, level, case, CHEAP, seed=1)
        valuation = expected_costs(CARE, level, case, CHEAP).all_in
        choice = Decision(
            [candidate(CARE, level, draws, case, CHEAP, valuation=valuation, budget=BUDGET)],
            budget=BUDGET,
            penalty=0.0,
        )
        known = np.maximum(draws.all_in.mean() - draws.all_in, 0).mean()
        assert choice.everything(0) == pytest.approx(known)
        assert choice.ceiling == pytest.approx(known)
        assert choice.visit(0, np.ones(3, bool), None, seed=1) == pytest.approx(known)

    def test_a_visit_that_can_see_nothing_is_worth_nothing(self):
        choice = decision(7)
        assert choice.visit(0, np.zeros(5, bool), SHARP, seed=1) == 0

    def test_a_grader_who_sees_nothing_adds_nothing(self):
        choice = decision(7)
        blind = np.full((5, 5), 0.2)
        assert choice.visit(0, np.ones(5, bool), blind, seed=1) == pytest.approx(0, abs=60)

    def test_it_agrees_with_counting_out_every_set_of_reports(self):
        """Three checkpoints: 125 sets of reports, each with its exact posterior and moments."""
        shape = {"checkpoints": 3, "remedies": 3}
        for seed in range(6):
            generator = np.random.default_rng(seed)
            care, level, draws, case, purchase = boat(generator, **shape)
            exact = moments(care, level, case, purchase)
            valuation = exact.all_in_mean
            choice = Decision(
                [candidate(care, level, draws, case, purchase, valuation=valuation, budget=BUDGET)],
                budget=BUDGET,
                penalty=0.0,
            )
            told = 0.0
            applies = level.any(axis=(0, 2))
            for reports in product(*[range(5) if on else [None] for on in applies]):
                known, weight = level.copy(), care.copy()
                for checkpoint, k in enumerate(reports):
                    if k is not None:
                        known[:, checkpoint] *= BLUNT[:, k]
                        weight = weight * known[:, checkpoint].sum(axis=1)
                if weight.sum() > 1e-12:
                    total = known.sum(axis=2, keepdims=True)
                    known = np.divide(known, total, out=np.zeros_like(known), where=total > 0)
                    # A class that the reports rule out still needs levels that sum to 1.
                    known[:, applies] = np.where(
                        total[:, applies] > 0, known[:, applies], np.eye(5)[0]
                    )
                    mean = moments(weight / weight.sum(), known, case, purchase).all_in_mean
                    told += weight.sum() * max(valuation - mean, 0.0)
            gain = choice.visit(0, np.ones(3, bool), BLUNT, seed=9)
            spread = exact.all_in_sd
            # Standard error of the mean over 8,192 draws, and the stray of the fitted groups.
            assert gain == pytest.approx(told, abs=0.035 * spread)

    def test_the_same_seed_gives_the_same_value(self):
        choice = decision(12)
        every = np.ones(5, bool)
        assert choice.visit(1, every, SHARP, seed=3) == choice.visit(1, every, SHARP, seed=3)


class TestVisitor:
    """A visitor with an unknown lean, which is the same in all their reports."""

    every = np.ones(30, bool)

    @pytest.fixture
    def one_boat(self):
        """Thirty small jobs, each for a checkpoint of its own, and no other candidate.

        The draws of the raters depend only on the visitor's lean, not on her levels.
        """
        jobs = [(j, j, (0, 0, 0.5, 1, 1), 1) for j in range(30)]
        case = work(fixed(*[1_000] * 30), NO_ENABLING, jobs)
        mixed = np.tile(CARE / 2, (2, 1)), np.tile(levels(np.full(30, 1.7), care=0), (2, 1, 1, 1))
        drawn = simulate(*mixed, case, CHEAP, seed=3)
        each = candidate(
            *mixed, drawn, case, CHEAP, valuation=float(drawn.all_in.mean()), budget=BUDGET
        )
        return Decision([each], budget=BUDGET, penalty=0.0)

    def test_one_who_is_known_reports_as_the_table_has_it(self, one_boat):
        known = visitor(np.stack([BLUNT, BLUNT]))
        by_table = one_boat.visit(0, self.every, BLUNT, seed=1)
        assert one_boat.visit(0, self.every, known, seed=1) == by_table

    def test_a_lean_in_common_tells_less_than_as_much_noise_apart(self, one_boat):
        leans = [discretised_normal(np.arange(5.0) + lean, 0.5) for lean in (-0.6, 0.6)]
        leaning = visitor(np.stack(leans))
        together, apart = (
            one_boat.visit(0, self.every, report, seed=1) for report in (leaning, leaning.report)
        )
        assert 0 < together < 0.8 * apart

    def test_reports_follow_the_draw_of_the_graders(self):
        tables = np.stack([np.eye(5), np.eye(5)[:, ::-1]])  # sees it as it is, or upside down
        level, graders = np.array([[0, 1, 4, 3]], dtype=np.int8), np.array([0, 0, 1, 1])
        seen_well = np.zeros(1, bool)
        reports = reports_by(visitor(tables), level, graders, seen_well, seed=2)
        assert reports.tolist() == [[0, 1, 0, 1]]

    def test_what_is_hampered_is_reported_as_a_guess(self):
        sharp, guess = np.stack([np.eye(5)] * 2), np.stack([np.eye(5)[:, ::-1]] * 2)
        level, graders = np.array([[0, 1], [0, 1]], dtype=np.int8), np.array([0, 1])
        hampered = np.array([False, True])
        reports = reports_by(Visitor(sharp, guess, SHARES), level, graders, hampered, seed=2)
        assert reports.tolist() == [[0, 1], [4, 3]]

    def test_a_visit_is_worth_less_the_more_of_it_is_hampered(self, one_boat):
        """With every check hampered: as the visit of a person who sees everything so badly."""
        goes = visitor(np.stack([SHARP] * 2), guess=np.stack([BLUNT] * 2))
        some = np.arange(30) < 15
        well, partly, badly = (
            one_boat.visit(0, self.every, goes, seed=1, hampered=hampered)
            for hampered in (~self.every, some, self.every)
        )
        assert badly < partly < well
        assert well == one_boat.visit(0, self.every, SHARP, seed=1)
        assert badly == one_boat.visit(0, self.every, BLUNT, seed=1)

    @pytest.mark.parametrize("seed", range(12))
    def test_a_guess_is_never_worth_more_whatever_the_draws_say(self, seed):
        """A guess that is nearly as sharp: the estimates alone differ by noise."""
        choice = decision(seed, checkpoints=12)
        goes = visitor(np.stack([SHARP] * 2), guess=np.stack([0.99 * SHARP + 0.01 * BLUNT] * 2))
        every = np.ones(12, bool)
        well = choice.visit(0, every, goes, seed=seed)
        assert choice.visit(0, every, goes, seed=seed, hampered=every) <= well

    def test_the_same_seen_as_well_or_better_is_worth_no_less(self, one_boat):
        goes = visitor(np.stack([SHARP] * 2), guess=np.stack([BLUNT] * 2))
        some, most = np.arange(30) < 15, np.arange(30) < 25
        kinds = np.stack([most, most, self.every, self.every])
        hampered = np.stack([most, some, some, ~self.every])
        valuation = one_boat.visits(0, kinds, goes, seed=1, hampered=hampered)
        assert np.all(np.diff(valuation) >= 0)

    def test_a_visit_for_one_hampered_check_is_worth_what_a_guess_is(self, one_boat):
        goes = visitor(np.stack([SHARP] * 2), guess=np.stack([BLUNT] * 2))
        only = np.arange(30) == 4
        guessed = one_boat.visit(0, only, goes, seed=1, hampered=only)
        assert guessed == pytest.approx(one_boat.checks(BLUNT)[0, 4], rel=0.1)
        assert guessed < 0.8 * one_boat.checks(SHARP)[0, 4]


class TestVisitorOfWhomTheListSaysNothing:
    def test_the_graders_of_the_list_have_no_effect_on_the_reports(self):
        """A professional's findings have draws of the graders, but tell nothing of a member."""
        level = np.tile(np.arange(5, dtype=np.int8), (3, 1_000))
        graders = np.arange(5_000) % 32
        anybody = Visitor(SHARP[None], BLUNT[None], np.ones(1))
        reports = reports_by(anybody, level, graders, np.zeros(3, bool), seed=1)
        assert (reports == reports_of(level, np.tile(SHARP, (3, 1, 1)), seed=1)).all()


class TestBadInput:
    @pytest.mark.parametrize(
        ("report", "message"),
        [
            (np.eye(4), r"report: needs \(..., 5, 5\)"),
            (np.full((5, 5), 0.3), r"report\[0\]: does not sum to 1"),
            (-np.eye(5), r"report\[0, 0\]: is negative"),
        ],
    )
    def test_a_table_that_is_none_is_named(self, report, message):
        with pytest.raises(ValueError, match=message):
            decision(21).checks(report)

    def test_a_decision_needs_candidates_that_fit_together(self):
        with pytest.raises(ValueError, match="prospects: needs at least one"):
            Decision([], budget=1.0, penalty=0.0)
        few, many = decision(1, checkpoints=3), decision(2, checkpoints=4)
        with pytest.raises(ValueError, match=r"prospects\[1\]: has other checkpoints"):
            Decision([few.prospects[0], many.prospects[0]], budget=1.0, penalty=0.0)
        with pytest.raises(ValueError, match="penalty: is negative"):
            Decision(few.prospects, budget=1.0, penalty=-1.0)


class TestCeiling:
    @pytest.mark.parametrize("seed", range(3))
    def test_it_is_what_very_many_draws_say(self, seed):
        """Four boats, each drawn anew 100,000 times; the yard rate is the same for all."""
        generator = np.random.default_rng(seed)
        prospects, many = [], []
        for _ in range(4):
            care, level, draws, case, purchase = boat(generator)
            valuation = expected_costs(care, level, case, purchase).all_in + generator.normal(
                900, 900
            )
            prospects.append(
                candidate(care, level, draws, case, purchase, valuation=valuation, budget=BUDGET)
            )
            again = simulate(
                care, level, case, purchase, seed=int(generator.integers(2**32)), draws=100_000
            )
            upfront, all_in = again.by_outcome(again.upfront), again.by_outcome(again.all_in)
            many.append(regretted_surplus(valuation, all_in, upfront, BUDGET, 4.0))
        utility = np.array(many)
        known = np.maximum(utility.max(axis=0), 0).mean() - max(utility.mean(axis=1).max(), 0)
        ceiling = Decision(prospects, budget=BUDGET, penalty=4.0).ceiling
        assert ceiling == pytest.approx(known, rel=0.04)
