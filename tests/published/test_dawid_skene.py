"""Free confusion matrices on the data they were published with, and against a library.

Dawid, A.P., & Skene, A.M. (1979). Maximum likelihood estimation of observer error-rates using the
EM algorithm. Applied Statistics 28(1), 20-28. Five observers rated 45 patients, the first of them
three times. The data were read in two public copies; the printed figures are from memory, and a
separate EM reproduces them to their two decimals (data/dawid_skene_1979.json).
"""

import json
from pathlib import Path

import numpy as np
import pytest

from apps.reckoning.confusion import fit_confusion

# The library uses calls that its own dependency has since deprecated.
pytestmark = pytest.mark.filterwarnings("ignore:The (inplace|copy) keyword")

CASE = json.loads((Path(__file__).parent / "data" / "dawid_skene_1979.json").read_text())
LABELS = np.array(CASE["data"]) - 1
PATIENT, COLUMN = (index.ravel() for index in np.indices(LABELS.shape))
OBSERVER = np.array(CASE["positions"])[COLUMN] - 1


@pytest.fixture(scope="module")
def fitted():
    return fit_confusion(PATIENT, OBSERVER, LABELS.ravel(), labels=4)


def test_the_published_marginals(fitted):
    published = CASE["published_from_memory"]["marginals"]
    np.testing.assert_allclose(fitted.marginals, published, atol=0.005)


def test_the_published_error_rates_of_observer_one(fitted):
    published = CASE["published_from_memory"]["observer_1"]
    np.testing.assert_allclose(fitted.rates[0], published, atol=0.0051)


def test_a_separate_em_to_many_digits(fitted):
    computed = CASE["computed"]
    assert fitted.converged
    assert fitted.log_likelihood == pytest.approx(computed["log_likelihood"], abs=1e-8)
    np.testing.assert_allclose(fitted.marginals, computed["marginals"], atol=1e-8)
    np.testing.assert_allclose(fitted.rates, computed["error_rates"], atol=1e-8)
    assert (fitted.item.argmax(axis=1) + 1).tolist() == computed["labels"]


def test_the_likelihood_never_falls(fitted):
    assert np.diff(fitted.bound).min() >= 0.0


@pytest.mark.parametrize(
    ("patient", "probabilities"),
    [(7, {1: 0.981, 2: 0.019}), (35, {2: 0.948, 3: 0.052}), (38, {2: 0.021, 3: 0.979})],
)
def test_the_three_patients_that_stay_open(fitted, patient, probabilities):
    """From the separate EM: all others are above 0.999."""
    for label, probability in probabilities.items():
        assert fitted.item[patient - 1, label - 1] == pytest.approx(probability, abs=0.0005)
    certain = np.delete(fitted.item.max(axis=1), [6, 34, 37])
    assert certain.min() > 0.999


def test_the_copy_with_one_other_label_does_not_give_the_published_rates():
    """A third public copy has 1, 1, 2 where the two others have 1, 2, 2 (patient 7)."""
    other = LABELS.copy()
    other[6, :3] = 0, 0, 1
    fitted = fit_confusion(PATIENT, OBSERVER, other.ravel(), labels=4)
    np.testing.assert_allclose(fitted.rates[0, 0, :2], [0.91, 0.09], atol=0.005)


ROUNDS = 40  # twice what it takes to settle at 1e-6


def reference(task, worker, label):
    import pandas as pd  # it and the next load slowly
    from crowdkit.aggregation import DawidSkene

    table = pd.DataFrame({"task": task, "worker": worker, "label": label})
    return DawidSkene(n_iter=ROUNDS, tol=-np.inf).fit(table)


def test_an_independent_library_where_it_stopped_short(fitted):
    """crowd-kit leaves this case after a few rounds unless told not to; then it agrees.

    Its tolerance stops it at 0.02 from the worst posterior; a tolerance nothing meets lets it run.
    """
    model = reference(PATIENT, OBSERVER, LABELS.ravel())
    assert len(model.loss_history_) == ROUNDS
    np.testing.assert_allclose(model.priors_.sort_index(), fitted.marginals, atol=1e-6)
    np.testing.assert_allclose(model.probas_.sort_index(axis=1), fitted.item, atol=1e-6)


def test_an_independent_library_on_simulated_reports():
    rng = np.random.default_rng(20)
    truth = rng.integers(0, 3, 150)
    task, worker = (index.ravel() for index in np.indices((150, 6)))
    wrong = rng.random(len(task)) < np.linspace(0.1, 0.5, 6)[worker]
    label = np.where(wrong, rng.integers(0, 3, len(task)), truth[task])
    fitted = fit_confusion(task, worker, label, labels=3)
    model = reference(task, worker, label)
    np.testing.assert_allclose(model.probas_.sort_index(axis=1), fitted.item, atol=1e-6)
    errors = model.errors_.sort_index().sort_index(axis=1).to_numpy().reshape(6, 3, 3)
    np.testing.assert_allclose(errors.swapaxes(1, 2), fitted.rates, atol=1e-6)
