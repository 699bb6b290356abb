"""Which sums over groups of boats may be disclosed so that nobody can infer a single boat.

A figure is a sum over the boats of several parties (groups of buyers; two that share a person are
one). It is disclosed only if it, and every figure that follows from it and the other disclosed ones
by addition and subtraction, comes from at least three parties besides any single one: a contributor
knows its own part and can subtract it, and three must still be left. Figures disclosed earlier
count as disclosed: the difference before and after a change reveals the change.

Sums are rows of a matrix with a column for each contribution. What follows from them is the row
space M. M contains a figure of the parties S alone exactly if the rank falls when the columns of S
are left out. (Cell suppression with its complementary cells, and the audit of linear
disclosures: Willenborg & de Waal, Elements of Statistical Disclosure Control, 2001, ch. 6;
Hundepohl et al., Statistical Disclosure Control, 2012, ch. 4. Cited from secondary sources.)
"""

from collections.abc import Iterator
from itertools import combinations, islice
from typing import Final

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints

FEWEST: Final = 3  # parties that must be left besides any single one
# No disclosed figure may follow from so few parties: the reader's own and two others.
TOO_FEW: Final = FEWEST
BATCH: Final = 2048  # sets of parties checked at once


def may_be_disclosed(rows: Bools, contributor: Ints, disclosed: Bools | None = None) -> Bools:
    """(C,): which rows may be disclosed together; earlier rows have priority.

    rows: (C, B), the contributions that each sum is over. contributor: (B,), the party of each.
    disclosed: (F, B), earlier sums; silence cannot undo what follows from these alone.
    """
    disclosed = np.zeros((0, len(contributor)), dtype=np.bool_) if disclosed is None else disclosed
    wide = np.array([len(np.unique(contributor[row])) > TOO_FEW for row in rows], dtype=np.bool_)
    if not wide.any():
        return wide
    contributors = np.unique(contributor)
    before = _Leaks(disclosed, contributor, contributors)
    if before.hold(np.vstack([disclosed, rows[wide]])):
        return wide
    chosen = np.zeros(len(rows), dtype=np.bool_)
    for at in np.flatnonzero(wide):
        chosen[at] = True
        if not before.hold(np.vstack([disclosed, rows[chosen]])):
            chosen[at] = False
    return chosen


class _Leaks:
    """How much the earlier disclosures reveal of each small set of parties."""

    def __init__(self, disclosed: Bools, contributor: Ints, contributors: Ints) -> None:
        self._contributor, self._contributors = contributor, contributors
        self._before = [self._lost(disclosed, sets) for sets in self._sets()]

    def hold(self, rows: Bools) -> bool:
        """Whether these rows reveal no more of any small set of parties than the earlier ones."""
        return all(
            bool((self._lost(rows, sets) <= before).all())
            for sets, before in zip(self._sets(), self._before, strict=True)
        )

    def _sets(self) -> Iterator[Ints]:
        """Sets of parties, in batches: (n, s) places in `contributors`."""
        size = min(TOO_FEW, len(self._contributors))
        every = combinations(range(len(self._contributors)), size)
        while batch := list(islice(every, BATCH)):
            yield np.array(batch, dtype=np.intp)

    def _lost(self, rows: Bools, sets: Ints) -> Ints:
        """(n,): by how much the rank falls without the columns of each set of parties."""
        if len(rows) == 0:
            return np.zeros(len(sets), dtype=np.intp)
        by_contributor = self._products(rows)
        whole = by_contributor.sum(axis=0)
        left = whole - by_contributor[sets].sum(axis=1)
        return np.asarray(_rank(whole) - _rank(left), dtype=np.intp)

    def _products(self, rows: Bools) -> Floats:
        """(P, C, C): the rows' products with one another over each party's columns.

        The rank of columns is that of the sum of their products, small exact integers.
        """
        return np.array(
            [
                own @ own.T
                for p in self._contributors
                for own in [rows[:, self._contributor == p].astype(np.float64)]
            ]
        )


def _rank(products: Floats) -> Ints:
    return np.asarray(np.linalg.matrix_rank(products, tol=1e-7, hermitian=True))
