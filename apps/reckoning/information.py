"""The information that reports give about their graders if the true levels are only inferred.

The weights of a mean-field fit treat the levels as known and each grader as independent. They are
too narrow, and nearly always close to one grid point. One Newton step on the likelihood of the
reports alone, with levels and care classes averaged out, corrects both: its score is the average of
the complete data's score, and its information is the complete data's minus the variance of that
score (Louis, 1982, JRSS B 44, 226-233).

With s_jc the score of a boat's checkpoint j averaged over its levels given care class c, and T_c
the sum of s_jc over the boat, the information is the sum over boats of E_c[sum_j s_jc s_jc'], as
outer products, minus Cov_c[T_c]: a common cause of several graders' reports (all graders harsh, or
a neglected boat?) does not count as learned.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.tally import Tally

# The care class may take at most this share of the information in any direction: outer products are
# an estimate, and on a handful of boats the rest could become negative. Own choice, no source.
MOST_SHARED: Final = 0.9

Sparse: TypeAlias = "scipy.sparse.csr_array[np.float64]"


@dataclass(frozen=True, slots=True, eq=False)
class Inferred:
    """Reports, and the belief about their boats.

    care: (3, B). level_given_care: (3, 5, S), boat by boat.
    """

    tally: Tally
    care: Floats
    level_given_care: Floats


def newton_step(
    scores: tuple[Floats, ...],
    parameters: Ints,
    precision: Floats,
    prior_score: Floats,
    inferred: Iterable[Inferred],
) -> tuple[Floats, Floats]:
    """A step to the most likely parameters, and their variance there.

    scores: tables (codes, 5), derivatives of a report's log-likelihood. parameters: (tables,
    codes), the index of the parameter of each derivative, of P parameters. precision,
    prior_score: (P,), of the parameters' independent normal priors. Returns (P,) and (P,).
    """
    total = prior_score.copy()
    information = scipy.sparse.csr_array(scipy.sparse.diags_array(precision))
    shared = scipy.sparse.csr_array(information.shape)
    for part in inferred:
        boats, cells = part.care.shape[1], part.tally.cells
        cell, code = part.tally.entries()
        boat = cell // max(cells // boats, 1)
        column = parameters[:, code].ravel()
        mean = np.zeros(len(column))
        for care, level in zip(part.care[:, boat], part.level_given_care, strict=True):
            share = np.tile(care, len(scores))
            score = np.concatenate([part.tally.expected(table, level) for table in scores])
            mean += score * share
            scaled = score * np.sqrt(share)
            information = information + _outer(scaled, cell, column, (cells, len(precision)))
            shared = shared + _outer(scaled, boat, column, (boats, len(precision)))
        shared = shared - _outer(mean, boat, column, (boats, len(precision)))
        total += np.bincount(column, weights=mean, minlength=len(precision))
    return _solved(information, shared, total)


def _outer(values: Floats, row: Ints, column: Ints, shape: tuple[int, int]) -> Sparse:
    """(P, P): values summed by row and column, and then each row's outer product with itself.

    The rows repeat for each table of scores.
    """
    rows = np.tile(row, len(column) // max(len(row), 1))
    summed = scipy.sparse.csr_array((values, (rows, column)), shape=shape)
    return scipy.sparse.csr_array(summed.T @ summed)


def _solved(information: Sparse, shared: Sparse, score: Floats) -> tuple[Floats, Floats]:
    """(information - shared)^-1 score, and the diagonal of that inverse.

    Graders who share no boat share no information, so each connected group is solved by itself.
    """
    step, variance = np.zeros(len(score)), np.zeros(len(score))
    count, group = scipy.sparse.csgraph.connected_components(
        abs(information) + abs(shared), directed=False
    )
    order = np.argsort(group, kind="stable")
    for members in np.split(order, np.cumsum(np.bincount(group, minlength=count))[:-1]):
        known = information[members][:, members].toarray()
        lost, axes = scipy.linalg.eigh(shared[members][:, members].toarray(), known)
        inverse = (axes / (1.0 - np.minimum(lost, MOST_SHARED))) @ axes.T
        step[members] = inverse @ score[members]
        variance[members] = inverse.diagonal()
    return step, variance
