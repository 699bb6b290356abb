"""Coefficients of agreement against published values and against independent libraries."""

import json
from pathlib import Path

import krippendorff
import numpy as np
import pytest
from scipy import stats

from apps.reckoning.agreement import (
    disagreement_weights,
    kappa_of_tables,
    krippendorff_alpha,
    weighted_kappa,
)
from apps.reckoning.concordance import kendall_w
from apps.reckoning.intraclass import intraclass_correlations

DATA = Path(__file__).parent / "data"


def read(name):
    """Citations stand in the files, beside the figures."""
    return json.loads((DATA / name).read_text())


KRIPPENDORFF = {e["id"]: e for e in read("krippendorff.json")["examples"]}
KAPPA = read("kappa.json")
COHEN = {e["id"]: e for e in KAPPA["cohen"]}
ICC = read("icc.json")
METRICS = ("nominal", "ordinal", "interval", "ratio")


def reliability_data(example):
    rows = example["data"]
    if isinstance(rows[0], str):
        rows = [[ord(letter) for letter in row] for row in rows]
    return np.array(rows, dtype=float)


def random_ratings(seed, raters=5, units=60, missing=0.3):
    draw = np.random.default_rng(seed)
    truth = draw.integers(0, 5, units)
    ratings = np.clip(np.round(truth + draw.normal(0, 0.8, (raters, units))), 0, 4)
    ratings[draw.random(ratings.shape) < missing] = np.nan
    return ratings


class TestKrippendorff:
    @pytest.mark.parametrize("example", KRIPPENDORFF.values(), ids=KRIPPENDORFF)
    def test_published(self, example):
        # Krippendorff (2011); the ordinal, interval and ratio values of the first are from memory.
        published = {**example["published"], **example.get("published_from_memory", {})}
        for metric, value in published.items():
            found = krippendorff_alpha(reliability_data(example), metric)
            assert found.value == pytest.approx(value, abs=0.0005)

    def test_a_single_rating_of_a_unit_has_no_effect(self):
        # Unit 12 of the published data has one rating, which another printing gives another rater.
        data = reliability_data(KRIPPENDORFF["C_4x12"])
        found = krippendorff_alpha(data, "interval")
        assert found.units == 11
        data[:, -1] = np.nan
        assert krippendorff_alpha(data, "interval").value == found.value

    @pytest.mark.parametrize("metric", METRICS)
    @pytest.mark.parametrize("seed", range(3))
    def test_against_the_krippendorff_library(self, metric, seed):
        levels = random_ratings(seed)
        measured = levels + np.random.default_rng(seed).random(levels.shape).round(1)
        for ratings in (levels, levels + 3, levels / 2, levels * 1e16, measured):
            reference = krippendorff.alpha(reliability_data=ratings, level_of_measurement=metric)
            assert krippendorff_alpha(ratings, metric).value == pytest.approx(reference, abs=1e-12)


class TestWeightedKappa:
    @pytest.mark.parametrize("name", ["cohen1968", "sas_3x3", "vcd_SexualFun"])
    def test_published_tables(self, name):
        example = COHEN[name]
        table = np.array(example["table"])
        scales = {
            kind: disagreement_weights(kind, len(table))
            for kind in ("nominal", "linear", "quadratic")
        }
        scales["kappa"] = scales["unweighted"] = scales["nominal"]
        if "disagreement_weights" in example:
            scales["weighted"] = example["disagreement_weights"]
        published = {**example.get("published", {}), **example.get("published_from_memory", {})}
        checked = {kind: value for kind, value in published.items() if kind in scales}
        assert checked
        for kind, value in checked.items():
            assert kappa_of_tables(table, scales[kind]) == pytest.approx(value, abs=0.0005)

    def test_weights_that_are_not_symmetric(self):
        # Cohen (1968): .353; rows and columns exchanged would give .421.
        example = COHEN["cohen1968"]
        weights = example["asymmetric"]["disagreement_weights"]
        found = kappa_of_tables(example["table"], weights)
        assert found == pytest.approx(example["asymmetric"]["published"], abs=0.0005)

    def test_agreement_weights_of_fleiss_cohen_and_everitt(self):
        # Figures from memory; weights of agreement, one less the disagreement.
        example = COHEN["fleiss_cohen_everitt1969"]
        found = kappa_of_tables(example["table"], 1 - np.array(example["agreement_weights"]))
        assert found == pytest.approx(example["published_from_memory"]["weighted"], abs=0.0005)

    def test_two_film_critics(self):
        # Agresti & Winner (1997), Chance 10(2), 10-14: con, mixed, pro of Siskel and of Ebert on
        # 160 films; kappa .389, standard error .060 (from memory).
        table = np.array([[24, 8, 13], [8, 13, 11], [10, 9, 64]])
        nominal = disagreement_weights("nominal", 3)
        assert kappa_of_tables(table, nominal) == pytest.approx(0.389, abs=0.0005)
        draws = np.random.default_rng(1).multinomial(160, table.ravel() / 160, size=4_000)
        resampled = kappa_of_tables(draws.reshape(-1, 3, 3), nominal)
        assert resampled.std() == pytest.approx(0.060, abs=0.0025)

    def test_a_label_that_nobody_used_still_counts_as_a_step(self):
        # R's irr leaves level 5, which neither rater used, out of the scale and prints these.
        ratings = np.array(COHEN["irr_anxiety"]["ratings"], dtype=float)[:, 1:].T
        published = COHEN["irr_anxiety"]["published"]["raters_2_3"]
        without, whole = [1, 2, 3, 4, 6], [1, 2, 3, 4, 5, 6]
        for kind, name in (("nominal", "unweighted"), ("linear",) * 2, ("quadratic", "squared")):
            found = weighted_kappa(*ratings, without, kind).value
            assert found == pytest.approx(published[name], abs=1e-7)
        assert weighted_kappa(*ratings, whole, "linear").value != pytest.approx(
            published["linear"], abs=0.001
        )
        assert weighted_kappa(*ratings, whole, "nominal").value == pytest.approx(
            published["unweighted"], abs=1e-7
        )

    @pytest.mark.parametrize("kind", ["linear", "quadratic"])
    def test_against_statsmodels(self, kind):
        first, second = random_ratings(7, raters=2, missing=0.0)
        table, _ = np.histogramdd([first, second], bins=[np.arange(-0.5, 5)] * 2)
        from statsmodels.stats import inter_rater  # it loads slowly, like the next

        reference = inter_rater.cohens_kappa(table, wt=kind).kappa
        found = weighted_kappa(first, second, range(5), kind).value
        assert found == pytest.approx(reference, abs=1e-12)


class TestIntraclass:
    # The names under which pingouin gives the six forms.
    FORMS = {
        "icc_1_1": "ICC(1,1)",
        "icc_2_1": "ICC(A,1)",
        "icc_3_1": "ICC(C,1)",
        "icc_1_k": "ICC(1,k)",
        "icc_2_k": "ICC(A,k)",
        "icc_3_k": "ICC(C,k)",
    }

    @pytest.mark.parametrize("form", FORMS)
    def test_published(self, form):
        # Shrout & Fleiss (1979), six targets by four judges.
        published = ICC["published"][form.upper().replace("K", "4")]
        found = getattr(intraclass_correlations(np.transpose(ICC["data"])), form)
        assert found.value == pytest.approx(published, abs=0.005)

    @pytest.mark.parametrize("ratings", [ICC["data"], random_ratings(3, 4, 30, 0.0).T.tolist()])
    def test_against_pingouin(self, ratings):
        import pandas as pd
        import pingouin

        table = np.array(ratings, dtype=float)
        targets, judges = np.indices(table.shape)
        reference = pingouin.intraclass_corr(
            data=pd.DataFrame(
                {"target": targets.ravel(), "judge": judges.ravel(), "rating": table.ravel()}
            ),
            targets="target",
            raters="judge",
            ratings="rating",
        ).set_index("Type")["ICC"]
        found = intraclass_correlations(table.T)
        for ours, theirs in self.FORMS.items():
            assert getattr(found, ours).value == pytest.approx(reference[theirs], abs=1e-6)


class TestKendall:
    @pytest.mark.parametrize("example", read("kendall_w.json")["examples"], ids=lambda e: e["id"])
    def test_published(self, example):
        # Zar (2010), Legendre (2005), Kendall; the last one's value is from memory.
        published = {**example.get("published", {}), **example.get("published_from_memory", {})}
        found = kendall_w(example.get("ranks", example.get("data")))
        assert found.value == pytest.approx(published["W"], abs=0.0005)

    @pytest.mark.parametrize("seed", range(3))
    def test_against_friedmans_statistic_of_scipy(self, seed):
        # m (n - 1) W is Friedman's statistic, corrected for ties.
        scores = np.random.default_rng(seed).integers(0, 6, (5, 9))
        statistic = stats.friedmanchisquare(*scores.T).statistic
        assert kendall_w(scores).value == pytest.approx(statistic / (5 * (9 - 1)), abs=1e-12)
