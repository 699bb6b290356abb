"""Properties of the coefficients of agreement, and the coverage of their intervals."""

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from apps.reckoning import bootstrap
from apps.reckoning.agreement import (
    alpha_by_area,
    krippendorff_alpha,
    pair_agreements,
    ratings_table,
    weighted_kappa,
)
from apps.reckoning.bootstrap import Resampling, estimate
from apps.reckoning.concordance import kendall_w
from apps.reckoning.intraclass import intraclass_correlations

NAN = np.nan
METRICS = ("nominal", "ordinal", "interval", "ratio")
QUICK = Resampling(replicates=200)

tables = hnp.arrays(
    float,
    st.tuples(st.integers(2, 4), st.integers(2, 8)),
    elements=st.sampled_from([0.0, 1.0, 2.0, 3.0, 4.0, NAN]),
)


def krippendorff_from_pairs(ratings, squared_distance):
    """Alpha by its definition, pair by pair: one less observed over expected disagreement."""
    units = [column[~np.isnan(column)] for column in ratings.T]
    units = [unit for unit in units if len(unit) > 1]
    everything = np.concatenate(units)
    observed = sum(squared_distance(a, b) / (len(u) - 1) for u in units for a in u for b in u)
    expected = sum(squared_distance(a, b) for a in everything for b in everything)
    return 1 - observed * (len(everything) - 1) / expected


class TestAlpha:
    @given(tables, st.sampled_from(["nominal", "interval"]))
    def test_it_is_its_definition(self, ratings, metric):
        found = krippendorff_alpha(ratings, metric)
        assume(found.value is not None)
        distance = {"nominal": lambda a, b: a != b, "interval": lambda a, b: (a - b) ** 2}[metric]
        expected = krippendorff_from_pairs(ratings, distance)
        assert found.value == pytest.approx(expected, abs=1e-12)

    @given(tables, st.sampled_from(METRICS), st.data())
    def test_order_of_raters_and_units_does_not_matter(self, ratings, metric, data):
        raters = data.draw(st.permutations(range(len(ratings))))
        units = data.draw(st.permutations(range(ratings.shape[1])))
        before = krippendorff_alpha(ratings, metric)
        after = krippendorff_alpha(ratings[raters][:, units], metric)
        assert before.value == pytest.approx(after.value, abs=1e-12)
        assert before.units == after.units

    @given(tables)
    def test_ordinal_sees_only_the_order(self, ratings):
        stretched = np.exp(ratings)
        before, after = krippendorff_alpha(ratings), krippendorff_alpha(stretched)
        assert before.value == pytest.approx(after.value, abs=1e-12)

    @given(tables, st.sampled_from(METRICS))
    def test_full_agreement_is_one_and_nothing_is_more(self, ratings, metric):
        value = krippendorff_alpha(ratings, metric).value
        assert value is None or value <= 1
        agreed = np.broadcast_to(np.nan_to_num(ratings[0]), ratings.shape)
        value = krippendorff_alpha(agreed, metric).value
        assert value == (None if len(np.unique(agreed)) == 1 else pytest.approx(1))

    @pytest.mark.parametrize(
        ("ratings", "reason"),
        [
            ([[1.0, 2.0, 3.0]], "too_few_raters"),
            ([[1.0, NAN], [NAN, 2.0]], "too_few_units"),
            (np.empty((2, 0)), "too_few_units"),
            ([[2.0, 2.0], [2.0, NAN]], "no_variation"),
        ],
    )
    def test_undefined_is_said_so(self, ratings, reason):
        found = krippendorff_alpha(ratings, resampling=QUICK)
        assert (found.value, found.low, found.high) == (None, None, None)
        assert found.reason == reason

    @pytest.mark.parametrize(
        ("ratings", "metric", "said"),
        [
            ([1.0, 2.0], "ordinal", "shape"),
            ([[1.0, np.inf]], "ordinal", "finite"),
            ([[-1.0, 1.0], [1.0, 1.0]], "ratio", "negative"),
        ],
    )
    def test_wrong_ratings_are_refused(self, ratings, metric, said):
        with pytest.raises(ValueError, match=said):
            krippendorff_alpha(ratings, metric)

    def test_by_area(self):
        ratings = np.array([[0, 1, 2, 0, 0, 0], [0, 1, 2, 1, 2, 0]], dtype=float)
        area = np.array([7, 7, 7, 2, 2, 2])
        found = alpha_by_area(ratings, area, "nominal")
        assert list(found) == [2, 7]
        assert found[7].value == pytest.approx(1)
        assert found[2].value == krippendorff_alpha(ratings[:, 3:], "nominal").value < 0
        with pytest.raises(ValueError, match="area"):
            alpha_by_area(ratings, area[:-1])


class TestKappa:
    @given(hnp.arrays(float, (2, 12), elements=st.sampled_from([0.0, 1, 2, 3, 4])))
    def test_quadratic_weights_are_an_intraclass_correlation(self, ratings):
        # Fleiss & Cohen (1973), Educational and Psychological Measurement 33, 613-619: with the
        # sums of squares over n in place of mean squares, kappa is ICC(2,1).
        first, second = ratings
        found = weighted_kappa(first, second, range(5)).value
        assume(found is not None)
        scatter = first.var() + second.var() + (first.mean() - second.mean()) ** 2
        covariance = ((first - first.mean()) * (second - second.mean())).mean()
        assert found == pytest.approx(2 * covariance / scatter, abs=1e-12)

    def test_labels_must_hold_every_rating(self):
        with pytest.raises(ValueError, match="rating 5 is not among the labels"):
            weighted_kappa([1.0, 5.0], [1.0, 2.0], range(5))

    def test_shapes_must_fit(self):
        with pytest.raises(ValueError, match="same shape"):
            weighted_kappa([1.0, 2.0], [1.0], range(5))

    @pytest.mark.parametrize(
        ("first", "second", "reason"),
        [([1.0, NAN], [NAN, 1.0], "too_few_units"), ([2.0, 2.0], [2.0, 2.0], "no_variation")],
    )
    def test_undefined_is_said_so(self, first, second, reason):
        assert weighted_kappa(first, second, range(5), resampling=QUICK).reason == reason


class TestPairs:
    def test_it_works(self):
        ratings = [[0, 1, 2, 3, NAN], [1, 2, 3, 4, 4], [NAN, NAN, NAN, NAN, 4]]
        pairs = pair_agreements(np.array(ratings), range(5), QUICK)
        assert [(p.first, p.second) for p in pairs] == [(0, 1), (0, 2), (1, 2)]
        harder, strangers, once = pairs
        assert (harder.same, harder.difference, harder.kappa.units) == (0.0, -1.0, 4)
        assert harder.kappa.low <= harder.kappa.value <= harder.kappa.high
        assert (strangers.same, strangers.difference) == (None, None)
        assert strangers.kappa.reason == "too_few_units"
        assert (once.same, once.kappa.reason) == (1.0, "no_variation")


class TestTable:
    def test_a_later_report_replaces_an_earlier_one(self):
        table = ratings_table(
            unit=np.array([0, 2, 0]), rater=np.array([1, 0, 1]), level=[1, 2, 4], units=3, raters=2
        )
        np.testing.assert_array_equal(table, [[NAN, NAN, 2], [4, NAN, NAN]])

    @pytest.mark.parametrize(("unit", "rater", "said"), [(3, 0, "unit"), (0, -1, "rater")])
    def test_an_index_out_of_range_is_refused(self, unit, rater, said):
        with pytest.raises(ValueError, match=said):
            ratings_table(
                unit=np.array([unit]), rater=np.array([rater]), level=[1], units=3, raters=2
            )


class TestConcordance:
    @given(hnp.arrays(float, (3, 5), elements=st.sampled_from([1.0, 2.0, 3.0])), st.data())
    def test_it_lies_between_nothing_and_one_and_knows_no_names(self, scores, data):
        found = kendall_w(scores).value
        assume(found is not None)
        assert -1e-12 <= found <= 1 + 1e-12
        orders, things = data.draw(st.permutations(range(3))), data.draw(st.permutations(range(5)))
        assert kendall_w(scores[orders][:, things]).value == pytest.approx(found)

    def test_a_thing_drawn_twice_is_a_thing_named_twice(self):
        # The weights of a resample mean the same as the resampled table itself.
        scores = np.array([[1.0, 2, 3, 4], [2, 1, 4, 3], [1, 1, 2, 2]])
        drawn = [0, 0, 2, 3]
        seen = {}

        def keep(statistic, units, resampling):
            seen["w"] = statistic(np.array([[2.0, 0.0, 1.0, 1.0]]))[0]
            return estimate(statistic, units, resampling)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("apps.reckoning.concordance.estimate", keep)
            kendall_w(scores)
        assert seen["w"] == pytest.approx(kendall_w(scores[:, drawn]).value)

    @pytest.mark.parametrize(
        ("scores", "reason"),
        [
            (np.ones((1, 3)), "too_few_raters"),
            (np.ones((3, 1)), "too_few_units"),
            (np.ones((3, 3)), "no_variation"),
        ],
    )
    def test_undefined_is_said_so(self, scores, reason):
        assert kendall_w(scores, QUICK).reason == reason

    @pytest.mark.parametrize(("scores", "said"), [([1, 2], "shape"), ([[1, NAN]], "complete")])
    def test_wrong_scores_are_refused(self, scores, said):
        with pytest.raises(ValueError, match=said):
            kendall_w(scores)


class TestIntraclass:
    def test_only_units_that_all_rated_count(self):
        ratings = np.array([[1.0, 2, 3, 4, NAN], [1, 3, 3, 5, 2], [2, 2, 4, 4, 2]])
        found = intraclass_correlations(ratings)
        assert found.icc_2_1.units == 4
        assert found == intraclass_correlations(ratings[:, :-1])

    def test_a_steady_lean_costs_agreement_but_not_consistency(self):
        ratings = np.array([[0.0, 1, 2, 3], [1, 2, 3, 4]])
        found = intraclass_correlations(ratings)
        assert found.icc_3_1.value == pytest.approx(1)
        assert found.icc_2_1.value < 0.8

    @pytest.mark.parametrize(
        ("ratings", "reason"),
        [
            (np.ones((1, 4)), "too_few_raters"),
            ([[1.0, NAN], [2.0, 3.0]], "too_few_units"),
            (np.full((3, 4), 0.1), "no_variation"),
        ],
    )
    def test_undefined_is_said_so(self, ratings, reason):
        found = intraclass_correlations(ratings, QUICK)
        forms = [getattr(found, field.name) for field in dataclasses.fields(found)]
        assert {form.reason for form in forms} == {reason}

    def test_wrong_axes_are_refused(self):
        with pytest.raises(ValueError, match="shape"):
            intraclass_correlations([1.0, 2.0])


class TestInterval:
    ratings = np.array([[0, 1, 2, 3, 4, 0, 2, 1], [0, 2, 2, 3, 3, 1, 2, 1]], dtype=float)

    def test_same_seed_same_interval(self):
        first, again = (krippendorff_alpha(self.ratings, resampling=QUICK) for _ in range(2))
        other = krippendorff_alpha(self.ratings, resampling=dataclasses.replace(QUICK, seed=1))
        assert first == again
        assert first.value == other.value
        assert (first.low, first.high) != (other.low, other.high)

    def test_memory_at_once_does_not_matter(self, monkeypatch):
        whole = krippendorff_alpha(self.ratings, resampling=QUICK)
        monkeypatch.setattr(bootstrap, "CHUNK", 20)
        piecewise = krippendorff_alpha(self.ratings, resampling=QUICK)
        assert dataclasses.astuple(piecewise)[:3] == pytest.approx(dataclasses.astuple(whole)[:3])

    def test_none_was_asked_for(self):
        found = krippendorff_alpha(self.ratings)
        assert found.value is not None
        assert (found.low, found.high) == (None, None)

    def test_none_can_be_given_if_resamples_often_lack_variation(self):
        found = krippendorff_alpha([[0.0, 1.0], [0.0, 1.0]], resampling=QUICK)
        assert (found.value, found.low, found.high, found.reason) == (1.0, None, None, None)

    @pytest.mark.parametrize(
        ("change", "said"), [({"replicates": 0}, "replicates"), ({"confidence": 1.0}, "confidence")]
    )
    def test_wrong_settings_are_refused(self, change, said):
        with pytest.raises(ValueError, match=said):
            Resampling(**change)

    def test_the_mean_has_the_interval_of_textbooks(self):
        # For a mean the percentile interval must come out as mean +- 1.96 standard errors.
        values = np.random.default_rng(5).normal(10, 2, 400)
        found = estimate(lambda w: w @ values / len(values), 400, Resampling(replicates=4000))
        error = values.std() / np.sqrt(len(values))
        assert found.low == pytest.approx(values.mean() - 1.96 * error, abs=0.1 * error)
        assert found.high == pytest.approx(values.mean() + 1.96 * error, abs=0.1 * error)


# Coverage: of 500 simulated lists, how many intervals of 95% hold the value that a very long list
# would have. With 500 lists the share itself has a standard error of 0.01 at 0.95.
LISTS = 500
PATIENT = Resampling(replicates=400)


def simulated(draw, units, raters=4, missing=0.2):
    """Levels as common as on old boats, seen by graders with leans of their own and a spread."""
    level = draw.choice(5, units, p=[0.3, 0.3, 0.2, 0.15, 0.05])
    lean = np.linspace(-0.4, 0.4, raters)[:, None]
    seen = np.clip(np.round(level + lean + draw.normal(0, 0.7, (raters, units))), 0, 4)
    seen[draw.random(seen.shape) < missing] = NAN
    return seen


@pytest.mark.parametrize(
    ("coefficient", "missing"),
    [
        pytest.param(krippendorff_alpha, 0.2, id="alpha"),
        pytest.param(
            lambda x, resampling=None: weighted_kappa(x[0], x[1], range(5), resampling=resampling),
            0.2,
            id="kappa",
        ),
        pytest.param(
            lambda x, resampling=None: intraclass_correlations(x, resampling).icc_2_1, 0.0, id="icc"
        ),
        pytest.param(
            lambda x, resampling=None: intraclass_correlations(x, resampling).icc_1_k,
            0.0,
            id="icc-mean",
        ),
        pytest.param(kendall_w, 0.0, id="concordance"),
    ],
)
def test_coverage_of_the_intervals(coefficient, missing):
    draw = np.random.default_rng(11)
    units = 60
    long_list = 1_000 if coefficient is kendall_w else 100_000  # concordance takes units squared
    truth = coefficient(simulated(draw, long_list, missing=missing)).value
    covered = 0
    for _ in range(LISTS):
        found = coefficient(simulated(draw, units, missing=missing), resampling=PATIENT)
        covered += found.low <= truth <= found.high
    assert 0.92 <= covered / LISTS <= 0.975
