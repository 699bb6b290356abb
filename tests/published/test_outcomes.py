"""Intervals and rates of a club's statistics against published figures and reference libraries.

Figures marked 'recomputed' are printed in the source as remembered here, and agree with a second
computation by the library named.
"""

import numpy as np
import pytest
from scipy import stats

from apps.reckoning.outcomes import cost_factor, mean_of, ratio_of, share_of


# The reference library loads slowly, and each worker imports every file of tests.
def proportion_confint(*args, **options):
    from statsmodels.stats import proportion

    return proportion.proportion_confint(*args, **options)


def t_interval(values, alpha):
    from statsmodels.stats.weightstats import DescrStatsW

    return DescrStatsW(values).tconfint_mean(alpha)


@pytest.mark.parametrize(("count", "of"), [(1, 4), (3, 12), (7, 20), (19, 20), (81, 263)])
@pytest.mark.parametrize("mass", [0.80, 0.90, 0.95])
def test_jeffreys_interval_by_statsmodels(count, of, mass):
    low, high = proportion_confint(count, of, alpha=1 - mass, method="jeffreys")
    share = share_of(count, of, mass=mass)
    assert (share.low, share.high) == pytest.approx((low, high), abs=1e-9)


@pytest.mark.parametrize("of", [5, 10, 30])
def test_jeffreys_interval_at_its_ends(of):
    """Brown, Cai & DasGupta (2001), section 4.1.1: 0 at none, 1 at all; else as equal tails.

    Statistical Science 16(2), 101-133. Read of, and from memory; the upper end by scipy.
    """
    none, every = share_of(0, of, mass=0.95), share_of(of, of, mass=0.95)
    assert (none.low, every.high) == (0.0, 1.0)
    assert none.high == pytest.approx(stats.beta(0.5, of + 0.5).ppf(0.975))
    assert every.low == pytest.approx(1 - none.high)


def test_coverage_of_jeffreys_interval():
    """Brown, Cai & DasGupta (2001): close to what it says on average, where Wald's falls short.

    Averaged over p in 0.05 to 0.95 at n = 20 and nominal 95%: their figures show Jeffreys' near
    0.95 and Wald's well under; the coverage here is exact, by summing the binomial distribution.
    """
    of, counts = 20, np.arange(21)
    jeffreys = [share_of(int(count), of, mass=0.95) for count in counts]
    wald = [proportion_confint(int(c), of, alpha=0.05, method="normal") for c in counts]

    def coverage(intervals):
        low, high = np.array(intervals).T
        at = np.linspace(0.05, 0.95, 181)
        return np.mean([stats.binom(of, p).pmf(counts) @ ((low <= p) & (p <= high)) for p in at])

    assert coverage([(one.low, one.high) for one in jeffreys]) == pytest.approx(0.95, abs=0.012)
    assert coverage(wald) < 0.93


def test_sensitivity_and_specificity_of_a_textbook():
    """Altman & Bland (1994), BMJ 308, 1552: liver scans against pathology in 344 patients.

    258 abnormal, of whom 231 were seen as such: 0.90; 86 normal, of whom 54 were: 0.63. From
    memory; the intervals by statsmodels.
    """
    sensitivity, specificity = share_of(231, 258, mass=0.95), share_of(54, 86, mass=0.95)
    assert round(sensitivity.value, 2) == 0.90
    assert round(specificity.value, 2) == 0.63
    for share, count, of in ((sensitivity, 231, 258), (specificity, 54, 86)):
        wilson = proportion_confint(count, of, alpha=0.05, method="wilson")
        assert (share.low, share.high) == pytest.approx(wilson, abs=0.012)


def test_students_own_example():
    """Student (1908), Biometrika 6(1), 1-25: hours of sleep gained, ten patients, second drug less
    first: 1.2 2.4 1.3 1.3 0.0 1.0 1.8 0.8 4.6 1.4, mean 1.58, s.d. 1.17 (dividing by n).
    """
    gained = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4]
    mean = mean_of(gained, mass=0.95)
    assert mean.value == pytest.approx(1.58)
    assert np.std(gained) == pytest.approx(1.17, abs=0.005)
    assert (mean.low, mean.high) == pytest.approx((0.70, 2.46), abs=0.005)  # recomputed
    assert (mean.low, mean.high) == pytest.approx(t_interval(gained, 0.05))


def test_geometric_mean_by_scipy():
    ratios = np.array([0.8, 1.1, 1.9, 2.4, 1.3])
    found = ratio_of(np.log(ratios), prior_sd=1.0, prior_weight=0.0, mass=0.90)
    assert found.value == pytest.approx(stats.gmean(ratios))
    low, high = np.exp(t_interval(np.log(ratios), 0.10))
    assert (found.low, found.high) == pytest.approx((low, high))


def test_conjugate_normal_by_a_second_way():
    """Gelman et al., Bayesian Data Analysis, 3rd ed., 3.3: kappa_n, mu_n and nu_n sigma_n^2.

    Their formulas with mu_0 = 0, kappa_0 = nu_0 = strength and sigma_0 = the catalogue's spread;
    written out here observation by observation instead of by sums.
    """
    bills, spread, strength = [0.3, -0.1, 0.5, 0.4], 0.25, 10.0
    mean, kappa, squares = 0.0, strength, strength * spread**2
    for bill in bills:
        squares += kappa / (kappa + 1) * (bill - mean) ** 2
        mean += (bill - mean) / (kappa + 1)
        kappa += 1
    factor = cost_factor(bills, spread, strength=strength)
    assert factor.median == pytest.approx(np.exp(mean))
    assert factor.spread == pytest.approx(np.sqrt(squares / kappa) / spread)
