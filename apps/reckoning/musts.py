"""What members must have, and which candidates are known to break it (model.md section 4)."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Floats


@dataclass(frozen=True, slots=True, eq=False)
class Must:
    """One member's must on all candidates: `least <= value <= most`.

    `want` is the caller's name for it, `member` the index of its owner. `value` (I,) is nan where
    it is not known: an unknown value breaks no must. A yes-or-no want is 0 or 1 with `least=1`.
    """

    want: str
    member: int
    value: Floats
    least: float = -np.inf
    most: float = np.inf

    @property
    def broken(self) -> Bools:
        """(I,): candidates known to break it."""
        return (self.value < self.least) | (self.value > self.most)


def within_musts(musts: Sequence[Must], members: int, candidates: int) -> Bools:
    """Return (B, I): whether a candidate breaks none of a member's own musts.

    Raises ValueError naming the want whose member or shape is wrong.
    """
    check_musts(musts, members, candidates)
    within = np.ones((members, candidates), dtype=np.bool_)
    for must in musts:
        within[must.member] &= ~must.broken
    return within


def check_musts(musts: Sequence[Must], members: int, candidates: int) -> None:
    """Raises ValueError naming the want whose member or shape is wrong."""
    for must in musts:
        if not 0 <= must.member < members:
            raise ValueError(f"must {must.want!r}: no member {must.member}, there are {members}")
        if must.value.shape != (candidates,):
            raise ValueError(
                f"must {must.want!r}: value must have shape ({candidates},), got {must.value.shape}"
            )
