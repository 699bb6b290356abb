"""Random numbers for many draws at once, spread evenly and shared by all boats.

A number is a place between 0 and 1 in units of 1 / UNITS. It is below a chance in these units as
often as the chance says, to 0.00002.

Each EVEN numbers in succession fall into EVEN equal parts of the whole, so that a few draws of one
care class have levels in their proportions: stratified sampling in each dimension (McKay, Beckman &
Conover, 1979, Technometrics 21, 239-245).
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from apps.reckoning.arrays import Floats

UNITS = 2**15
EVEN = 16
BOAT, LOOK = 4, 5  # streams: numbers of different streams have nothing to do with one another
Places = NDArray[np.uint16]


class EvenPlaces:
    """Rows of D places, independent of one another.

    All boats have the same rows, drawn once, but each in an order and with digital shifts of her
    own (as for nets: Owen, 2013, Monte Carlo theory, methods and examples, 17; from memory).
    """

    def __init__(self, stream: int, rows: int, draws: int, generator: np.random.Generator) -> None:
        self._common = _common(stream, rows // 64 * 64 + 64, draws)
        self._row = generator.permutation(len(self._common))[:rows]
        self._shift = generator.integers(UNITS, size=(rows, 1), dtype=np.uint16)

    def __getitem__(self, row: int | slice) -> Places:
        """(D,), or (N, D) for a slice."""
        return np.asarray(self._common[self._row[row]] ^ self._shift[row])


def in_units(chance: Floats) -> Places:
    """Chances of 0..1 in units of 1 / UNITS."""
    return np.asarray(np.rint(np.minimum(chance, 1.0) * UNITS), dtype=np.uint16)


@lru_cache(maxsize=8)
def _common(stream: int, rows: int, draws: int) -> Places:
    generator = np.random.default_rng([stream])
    parts = np.tile(np.arange(EVEN, dtype=np.uint16), (rows * -(-draws // EVEN), 1))
    generator.permuted(parts, axis=1, out=parts)
    width = UNITS // EVEN
    places = parts * np.uint16(width)
    places += generator.integers(width, size=parts.shape, dtype=np.uint16)
    places = np.ascontiguousarray(places.reshape(rows, -1)[:, :draws])
    places.flags.writeable = False
    return places
