"""Shrinking towards a prior worth so many observations, against published worked examples.

Gelman, A., Carlin, J.B., Stern, H.S., Dunson, D.B., Vehtari, A., & Rubin, D.B. (2013). Bayesian
Data Analysis, 3rd ed. The data were read in public copies; the printed figures are from memory
and were recomputed.
"""

import numpy as np
import pytest

from apps.reckoning.pooling import shrunk_mean, shrunk_shares
from apps.reckoning.typical import KindFigure


@pytest.mark.parametrize(
    ("strength", "printed"),
    [(2, 0.446), (5, 0.446), (10, 0.446), (20, 0.447), (100, 0.450), (200, 0.453)],
)
def test_placenta_previa(strength, printed):
    """Page 37: 437 girls of 980 births, prior mean 0.485 worth 2 to 200 births."""
    girls, _ = shrunk_shares(np.array([437.0, 543.0]), np.array([0.485, 0.515]), strength)
    assert girls == pytest.approx(printed, abs=0.0005)


def test_rat_tumours():
    """Page 102: 4 of 14 rats, prior Beta(1.356149, 8.615058) from 70 earlier groups: 0.223."""
    alpha, beta = 1.356149, 8.615058
    prior = np.array([alpha, beta]) / (alpha + beta)
    tumour, _ = shrunk_shares(np.array([4.0, 10.0]), prior, alpha + beta)
    assert tumour == pytest.approx(0.223, abs=0.0005)


def test_batting_averages():
    """Efron & Morris (1977), Scientific American 236(5), 119-127: 0.212 of the distance is kept.

    45 times at bat each; keeping c of the distance from the grand mean is a prior worth
    45 (1 - c) / c of them.
    """
    hits = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7.0])
    printed = [0.294, 0.289, 0.285, 0.280, 0.275, 0.275, 0.270, 0.266, 0.261, 0.261]
    printed += [0.256] * 5 + [0.252, 0.247, 0.242]
    grand_mean = np.full(18, hits.sum() / (45 * 18))
    kept = 0.212
    shrunk = shrunk_mean(hits, np.full(18, 45.0), grand_mean, 45 * (1 - kept) / kept)
    np.testing.assert_allclose(shrunk, printed, atol=0.0007)


def test_batting_averages_on_the_arcsine_scale():
    """Efron & Morris (1975), JASA 70, 311-319: 0.209 of the distance is kept; figures from memory.

    The averages y are shrunk as sqrt(45) arcsin(2 y - 1), and turned back.
    """
    hits = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7.0])
    printed = [0.290, 0.286, 0.281, 0.277, 0.273, 0.273, 0.268, 0.264, 0.259, 0.259]
    printed += [0.254] * 5 + [0.249, 0.244, 0.239]
    root = np.sqrt(45)
    x = root * np.arcsin(2 * hits / 45 - 1)
    kept = 0.209
    shrunk = shrunk_mean(x, np.ones(18), np.full(18, x.mean()), (1 - kept) / kept)
    average = (np.sin(shrunk / root) + 1) / 2
    np.testing.assert_allclose(average, printed, atol=0.0005)


class TestEightSchools:
    """Rubin (1981), J. Educational Statistics 6, 377-401; Gelman et al., Table 5.2, from memory.

    The figures for a spread of 5 between schools are computed.
    """

    effect = np.array([28, 8, -3, 7, -1, 1, 18, 12.0])
    precision = np.array([15, 10, 16, 11, 9, 11, 10, 18.0]) ** -2.0

    def test_pooled_effect(self):
        total, count = (self.precision * self.effect).sum(), self.precision.sum()
        pooled = shrunk_mean(total, count, np.float64(0.0), 0.0)
        assert pooled == pytest.approx(7.7, abs=0.05)
        assert pooled == pytest.approx(7.685617, abs=5e-7)
        assert count**-0.5 == pytest.approx(4.1, abs=0.05)

    def test_a_kind_of_grader_is_pooled_as_the_schools_are(self):
        """Each school a grader of one kind, about whom nothing was assumed."""
        kind = KindFigure(0.0, 1e4, 0.0).learned(self.effect, self.precision**-0.5)
        assert kind.mean == pytest.approx(7.685617, abs=5e-6)
        assert kind.sd == pytest.approx(4.1, abs=0.05)

    def test_each_school_is_drawn_towards_the_mean(self):
        between = 5.0
        weight = 1 / (1 / self.precision + between**2)
        mean = float(weight @ self.effect / weight.sum())
        assert mean == pytest.approx(7.850983, abs=5e-7)
        shrunk = shrunk_mean(
            self.precision * self.effect, self.precision, np.full(8, mean), between**-2
        )
        assert KindFigure(0.0, 1e4, between).learned(self.effect, self.precision**-0.5).mean == (
            pytest.approx(mean)
        )
        printed = [9.866, 7.881, 6.886, 7.705, 5.763, 6.678, 9.881, 8.148]
        np.testing.assert_allclose(shrunk, printed, atol=0.0005)
