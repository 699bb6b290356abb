"""Reports as a sparse matrix of counts: all that a round of fitting needs of them.

A report has a *code* (who reported which level, how sure) and a *cell* (a checkpoint on a boat, or
an item). A round needs two sums over reports, and both are products with the matrix of counts. A
grader model changes only its table.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Tally:
    """How often each code was reported about each cell.

    counts: (cells, codes), sparse. by_code: the same transposed, sharing its memory.
    """

    counts: "scipy.sparse.csr_array[np.float64]"
    by_code: "scipy.sparse.csc_array[np.float64]"

    @classmethod
    def of(cls, *, cell: Ints, code: Ints, cells: int, codes: int) -> "Tally":
        """cell, code: (N,), one entry a report, from 0 to cells - 1 and codes - 1."""
        ones = np.ones(len(cell), dtype=np.float64)
        where = (cell.astype(np.int32), code.astype(np.int32))
        return cls._of_counts(scipy.sparse.csr_array((ones, where), shape=(cells, codes)))

    @classmethod
    def _of_counts(cls, counts: "scipy.sparse.csr_array[np.float64]") -> "Tally":
        return cls(counts, counts.T)

    def part(self, start: int, end: int) -> "Tally":
        """The cells from start to end only, counted from 0."""
        return self._of_counts(self.counts[start:end])

    def evidence(self, table: Floats) -> Floats:
        """Sum of table rows over the reports about each cell.

        table: (codes, levels), the expected log-likelihood of a code at each true level.
        Returns (levels, cells): levels first, so that later steps run along long rows.
        """
        return np.ascontiguousarray((self.counts @ table).T)

    def expected_counts(self, level: Floats) -> Floats:
        """Expected number of times each code was reported at each true level.

        level: (levels, cells), probabilities. Returns (codes, levels).
        """
        return np.asarray(self.by_code @ np.ascontiguousarray(level.T))

    @property
    def cells(self) -> int:
        return int(self.counts.shape[0])

    def entries(self) -> tuple[Ints, Ints]:
        """Cell and code of each distinct report, in the order of `expected`."""
        reported = self.counts.tocoo()
        return reported.row.astype(np.intp), reported.col.astype(np.intp)

    def expected(self, table: Floats, level: Floats) -> Floats:
        """Each distinct report's table row averaged over the cell's levels, times its count.

        table: (codes, levels). level: (levels, cells), probabilities. Returns (entries,).
        """
        cell, code = self.entries()
        average = np.zeros(len(cell))
        for by_code, by_cell in zip(np.ascontiguousarray(table.T), level, strict=True):
            average += by_code[code] * by_cell[cell]
        return np.asarray(average * self.counts.data)
