"""The discretised normal against printed tables and independent implementations."""

import numpy as np
import pytest
from scipy.stats import norm, truncnorm

from apps.reckoning.levels import LEVELS, discretised_normal, mean_before_rounding

# Standard normal distribution function. Abramowitz & Stegun (1964), Handbook of Mathematical
# Functions, table 26.1; digits from memory, and equal to scipy's.
PRINTED = {0.5: 0.691462461274013, 1.5: 0.933192798731142, 2.5: 0.993790334674224}


def test_a_printed_table():
    """Mean 2 and sd 1 put the cut points at -1.5, -0.5, 0.5 and 1.5."""
    inner, outer = PRINTED[0.5], PRINTED[1.5]
    expected = [1 - outer, outer - inner, 2 * inner - 1, outer - inner, 1 - outer]
    np.testing.assert_allclose(discretised_normal(2.0, 1.0), expected, atol=1e-14)


def test_a_printed_table_off_centre():
    """Mean 1 and sd 1: cut points at -0.5, 0.5, 1.5 and 2.5."""
    below, *rest = 1 - PRINTED[0.5], PRINTED[0.5], PRINTED[1.5], PRINTED[2.5], 1.0
    np.testing.assert_allclose(
        discretised_normal(1.0, 1.0), np.diff([0.0, below, *rest]), atol=1e-14
    )


@pytest.mark.parametrize("mean", [-3.0, 0.0, 1.3, 2.0, 4.9])
@pytest.mark.parametrize("sd", [0.2, 0.6, 1.0, 3.6])
def test_scipys_normal_distribution(mean, sd):
    edges = norm.cdf([-np.inf, 0.5, 1.5, 2.5, 3.5, np.inf], mean, sd)
    np.testing.assert_allclose(discretised_normal(mean, sd), np.diff(edges), atol=1e-15)


@pytest.mark.parametrize("mean", [-1.0, 1.3, 4.2])
def test_scipys_truncated_normal(mean):
    """The mean before rounding is that of a normal cut to the level."""
    sd, edges = 0.9, np.array([-np.inf, 0.5, 1.5, 2.5, 3.5, np.inf])
    z = (edges - mean) / sd
    expected = [truncnorm.mean(z[t], z[t + 1], mean, sd) for t in range(LEVELS)]
    np.testing.assert_allclose(mean_before_rounding(mean, sd), expected, rtol=1e-9)


@pytest.mark.parametrize("sd", [0.5, 1.0, 2.0])
def test_the_ordered_probit_of_statsmodels(sd):
    """McCullagh (1980): cut points over sd, a slope of 1 / sd on the mean."""
    mean = np.linspace(-1, 5, 13)[:, None]
    levels = np.arange(13) % LEVELS
    from statsmodels.miscmodels.ordinal_model import OrderedModel  # it loads slowly

    model = OrderedModel(levels, mean, distr="probit")
    cuts = np.arange(LEVELS - 1) + 0.5
    steps = np.log(np.diff(cuts / sd))  # statsmodels holds the first cut and log differences
    predicted = model.predict(np.concatenate([[1 / sd], [cuts[0] / sd], steps]), exog=mean)
    np.testing.assert_allclose(discretised_normal(mean[:, 0], sd), predicted, atol=1e-12)
