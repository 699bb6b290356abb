"""Three-point prices against the PERT literature and an independent beta distribution.

Sources: Malcolm, Roseboom, Clark & Fazar (1959), Operations Research 7(5), 646-669, for
(a + 4 m + b) / 6 (from memory). Taylor, Introduction to Management Science, ch. 8 (read in a public
copy). UNC Greensboro, SCM 304, unit 6.3.1 (read). Hillier & Lieberman, Reliable Construction Co.,
and Wikipedia, "Program evaluation and review technique": from memory, recomputed.
The variance here is that of the beta, (mean - a)(b - mean) / 7, not the older ((b - a) / 6)^2.
"""

import numpy as np
import pytest
from scipy.stats import beta, kstest

from apps.reckoning.costs import Purchase, simulate
from tests.reckoning.cost_cases import CARE, NO_ENABLING, certain, prices, work

TAYLOR = [(5, 8, 17), (7, 10, 13), (3, 5, 7), (1, 3, 5), (4, 6, 8), (3, 3, 3), (3, 4, 5)]
UNCG = [(6, 7, 14), (8, 10, 12), (2, 3, 4), (6, 7, 8), (5, 5.5, 9), (5, 7, 9), (4, 6, 8)]
RELIABLE = [(1, 2, 3), (2, 3.5, 8), (6, 9, 18), (1, 4.5, 5), (4, 4, 10), (3, 9, 9), (1, 5.5, 7)]
RELIABLE += [(5, 5.5, 9)]  # critical path A-B-C-E-F-J-L-N

# a, m, b; variance and P10, P50, P90 by scipy, and by two libraries of three-point betas.
BETAS = [
    ((1, 2, 3), 1 / 7, (1.493273, 2.0, 2.506727)),
    ((2, 3.5, 8), 8 / 7, (2.673410, 3.882861, 5.503342)),
    ((5, 8, 17), 32 / 7, (6.346820, 8.765722, 12.006684)),
    ((10, 12, 20), 3.0, (10.899021, 12.766723, 15.453341)),
]


def of(points):
    return prices(*np.array(points, float).T)


def test_taylors_activities_and_critical_path():
    mean = of(TAYLOR).mean
    assert mean == pytest.approx([9, 10, 5, 3, 6, 3, 4])
    assert mean[[0, 2, 4, 6]].sum() == pytest.approx(24)


def test_greensboros_activities_and_critical_path():
    mean = of(UNCG).mean
    assert mean == pytest.approx([8, 10, 3, 7, 6, 7, 6])
    assert mean[[0, 2, 4, 6]].sum() == pytest.approx(23)


def test_hillier_and_liebermans_critical_path():
    assert of(RELIABLE).mean.sum() == pytest.approx(44)


@pytest.mark.parametrize(("points", "variance", "quantiles"), BETAS)
def test_shape_is_that_of_an_independent_beta(points, variance, quantiles):
    one = of([points])
    (alpha,), (other,) = one.shapes
    independent = beta(alpha, other, loc=points[0], scale=points[2] - points[0])
    assert independent.mean() == pytest.approx(one.mean[0])
    assert independent.var() == pytest.approx(one.variance[0])
    assert one.variance[0] == pytest.approx(variance)
    assert independent.ppf([0.1, 0.5, 0.9]) == pytest.approx(quantiles, abs=1e-6)


@pytest.mark.parametrize(("points", "variance", "quantiles"), BETAS)
def test_draws_have_the_published_quantiles(points, variance, quantiles):
    needed = work(of([points]), NO_ENABLING, [(0, 0, [1] * 5, 1)])
    draws = simulate(CARE, certain(0), needed, Purchase(asking=0.0), seed=1)
    # Standard error of a quantile: sqrt(p (1 - p) / D) / density, here below 0.03 span units.
    span = points[2] - points[0]
    assert np.quantile(draws.work_cost, [0.1, 0.5, 0.9]) == pytest.approx(
        quantiles, abs=0.01 * span
    )
    (alpha,), (other,) = of([points]).shapes
    fit = kstest(draws.work_cost, beta(alpha, other, loc=points[0], scale=span).cdf)
    assert fit.pvalue > 0.001
