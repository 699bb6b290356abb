"""Free confusion matrices: recovery, order, and refused input."""

import numpy as np
import pytest

from apps.reckoning.confusion import fit_confusion
from tests.reckoning.simulated import draw


@pytest.fixture(scope="module")
def reported():
    """400 items, five graders with matrices of their own, three labels."""
    rng = np.random.default_rng(1979)
    truth = rng.choice(3, 400, p=(0.5, 0.3, 0.2))
    rates = np.stack([rng.dirichlet((1, 1, 1), 3) * 0.4 + 0.6 * np.eye(3) for _ in range(5)])
    item, grader = (index.ravel() for index in np.indices((400, 5)))
    label = draw(rng, rates[grader, truth[item]])
    return item, grader, label, truth, rates


def test_it_recovers_the_matrices_and_the_labels(reported):
    item, grader, label, truth, rates = reported
    fitted = fit_confusion(item, grader, label, labels=3)
    assert fitted.converged
    assert np.abs(fitted.rates - rates).max() < 0.12
    assert np.mean(fitted.item.argmax(axis=1) == truth) > 0.93
    np.testing.assert_allclose(fitted.marginals, np.bincount(truth) / 400, atol=0.04)


def test_the_likelihood_never_falls_and_everything_sums_to_one(reported):
    item, grader, label, *_ = reported
    fitted = fit_confusion(item, grader, label, labels=3)
    assert np.diff(fitted.bound).min() > -1e-9
    np.testing.assert_allclose(fitted.item.sum(axis=1), 1.0)
    np.testing.assert_allclose(fitted.rates.sum(axis=2), 1.0)
    assert fitted.marginals.sum() == pytest.approx(1.0)


def test_the_order_of_reports_does_not_matter(reported):
    item, grader, label, *_ = reported
    order = np.random.default_rng(2).permutation(len(item))
    one = fit_confusion(item, grader, label, labels=3)
    other = fit_confusion(item[order], grader[order], label[order], labels=3)
    np.testing.assert_allclose(other.item, one.item, atol=1e-7)


def test_it_says_so_when_the_rounds_run_out(reported):
    item, grader, label, *_ = reported
    fitted = fit_confusion(item, grader, label, labels=3, max_rounds=2)
    assert fitted.rounds == 2
    assert not fitted.converged


def test_an_error_never_made_has_rate_zero_and_breaks_nothing():
    item, grader = (index.ravel() for index in np.indices((6, 3)))
    label = item % 2
    fitted = fit_confusion(item, grader, label, labels=2)
    np.testing.assert_allclose(fitted.rates, np.tile(np.eye(2), (3, 1, 1)))
    assert fitted.log_likelihood == pytest.approx(6 * np.log(0.5))


def test_smoothing_keeps_every_error_possible():
    item, grader = (index.ravel() for index in np.indices((6, 3)))
    fitted = fit_confusion(item, grader, item % 2, labels=2, smoothing=1.0)
    assert fitted.rates.min() > 0.1


def test_a_label_nobody_used_is_no_error():
    item, grader = (index.ravel() for index in np.indices((4, 2)))
    fitted = fit_confusion(item, grader, item % 2, labels=3)
    assert fitted.marginals[2] == 0.0
    assert np.isfinite(fitted.rates).all()


def index(*values):
    return np.array(values, dtype=np.intp)


@pytest.mark.parametrize(
    ("item", "label", "message"),
    [
        (index(0, 1), index(0, 2), "label: must be from 0 to 1"),
        (index(0, 1), index(0, -1), "label"),
        (index(0, 2), index(0, 1), "item: 1 has no report"),
        (index(0, 1, 2), index(0, 1), "one value each"),
    ],
)
def test_bad_reports_are_refused(item, label, message):
    with pytest.raises(ValueError, match=message):
        fit_confusion(item, index(0, 0), label, labels=2)
