"""Shrinking towards a prior worth so many observations, against published worked examples.

Gelman, A., Carlin, J.B., Stern, H.S., Dunson, D.B., Vehtari, A., & Rubin, D.B. (2013). Bayesian
Data Analysis, 3rd ed. The data were read in public copies; the printed figures are from memory
and were recomputed.
"""

import numpy as np
import pytest

from apps.reckoning.pooling import shrunk_mean, shrunk_shares


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
