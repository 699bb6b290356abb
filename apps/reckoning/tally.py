"""Reports as a sparse matrix of counts: all that a round of fitting needs of them.

A report says one thing (its *code*: who reported which level, how sure) about one *cell* (a
checkpoint on a boat, or an item). A round needs two sums over reports, and both are products
with the matrix of counts. Whatever a grader model looks like, only its table changes.
"""

import numpy as np
from scipy.sparse import csr_array

from apps.reckoning.arrays import Floats, Ints


class Tally:
    """How often each code was reported about each cell."""

    def __init__(self, *, cell: Ints, code: Ints, cells: int, codes: int) -> None:
        """cell, code: (N,), one entry a report, from 0 to cells - 1 and codes - 1."""
        ones = np.ones(len(cell), dtype=np.float64)
        where = (cell.astype(np.int32), code.astype(np.int32))
        self._counts = csr_array((ones, where), shape=(cells, codes))

    def evidence(self, table: Floats) -> Floats:
        """Sum of table rows over the reports about each cell.

        table: (codes, levels), the expected log-likelihood of a code at each true level.
        Returns (levels, cells): levels first, so that what follows runs along long rows.
        """
        return np.stack([self._counts @ column for column in np.ascontiguousarray(table.T)])

    def expected_counts(self, level: Floats) -> Floats:
        """Expected number of times each code was reported at each true level.

        level: (levels, cells), probabilities. Returns (codes, levels).
        """
        return np.stack([self._counts.T @ row for row in level], axis=-1)

    def expected(self, table: Floats, level: Floats) -> tuple[Ints, Floats]:
        """Table rows averaged over the levels of the cell, one entry a distinct report.

        table: (codes, levels). level: (levels, cells), probabilities. Returns the code of each
        distinct (cell, code) and its average, times how often it was reported.
        """
        reported = self._counts.tocoo()
        average = np.zeros(reported.nnz)
        for by_code, by_cell in zip(np.ascontiguousarray(table.T), level, strict=True):
            average += by_code[reported.col] * by_cell[reported.row]
        return reported.col.astype(np.intp), average * reported.data
