"""What a boat would cost if one checkpoint were at a given level: the table under next looks.

In the draws of a care class the levels of all other checkpoints are what they are whatever this one
is at, since levels are independent given the class. So E[. | class, checkpoint at t] is the mean,
over the draws of the class, of the cost with level t swapped in for that checkpoint: its own calls
taken out, those of level t put in, remedies and enabling work shared with other calls recounted.
Which of its calls are made is not drawn again but summed over exactly: a checkpoint has few
combinations of calls, and each is priced once for all levels. All levels use the same draws, so
differences between levels are steadier than the figures themselves.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.simulation import Draws, Singles
from apps.reckoning.work import Work


@dataclass(frozen=True, slots=True, eq=False)
class ByLevel:
    """Of one boat, given the care class and one checkpoint's level; all (J, 3, 5).

    all_in: expected all-in cost. overrun: expected max(0, all-in - pot). within: P(all-in <= pot).
    """

    all_in: Floats
    overrun: Floats
    within: Floats


def by_level(draws: Draws, work: Work, pot: float) -> ByLevel:
    """Swap every level of every checkpoint into the draws. work: as simulated."""
    excess = (draws.all_in - pot).astype(np.float32)
    swap = _Swap(draws, work, excess)
    # A class that no draw fell into is next to impossible: all draws stand in for it.
    slices = [part if part.stop > part.start else slice(None) for part in draws.care_slices]
    untouched = _means(excess[None], slices)  # a checkpoint that calls for nothing
    tables = np.broadcast_to(
        untouched[:, 0, None, :, None], (3, draws.level.shape[0], 3, LEVELS)
    ).copy()
    link_chance, link_extent = work.chance, work.extent
    for checkpoint in np.unique(work.link_checkpoint):
        links = np.flatnonzero(work.link_checkpoint == checkpoint)
        extents, chance = _combinations(
            link_chance[links].tobytes(), link_extent[links].tobytes(), len(links)
        )
        priced = _means(swap.priced(links, extents), slices)  # (3, S, 3)
        tables[:, checkpoint] = np.einsum("xsc,st->xct", priced, chance)
    return ByLevel(all_in=tables[0] + pot, overrun=tables[1], within=tables[2])


class _Swap:
    """One boat's draws, ready to have a checkpoint's calls taken out and others put in."""

    def __init__(self, draws: Draws, work: Work, excess: Singles) -> None:
        self.draws, self.work, self.excess = draws, work, excess
        called = draws.extent > 0
        # (M, D) how many remedies need each enabling work.
        self.callers = [called[needs].sum(axis=0, dtype=np.float32) for needs in work.needs.T]
        self.links_of = [
            np.flatnonzero(work.link_remedy == remedy) for remedy in range(len(work.remedies))
        ]

    def priced(self, links: Ints, extents: Floats) -> Singles:
        """All-in less pot of every combination of these links' extents, (S, n) to (S, D)."""
        draws, work = self.draws, self.work
        base = self.excess.copy()
        rows: list[Singles] = []
        used: list[Bools] = []
        left: dict[
            int, Singles
        ] = {}  # enabling work to the number of remedies beside these that need it
        for column, link in enumerate(links):
            remedy = work.link_remedy[link]
            price, others = draws.remedy_price[remedy], self._others(link)
            base -= price * (draws.extent[remedy] - others)
            for extent in np.unique(extents[:, column]):
                if extent > 0:
                    beyond = np.maximum(np.float32(extent) - others, 0)
                    rows.append(price * beyond)
                    used.append(extents[:, column] == extent)
            only_here = draws.extent[remedy] > 0
            if others.ndim:
                only_here &= others == 0
            for enabling in np.flatnonzero(work.needs[remedy]).tolist():
                left[enabling] = left.get(enabling, self.callers[enabling]) - only_here
        for enabling, count in left.items():
            price = draws.enabling_price[enabling] * (count == 0)
            base -= price * draws.needed[enabling]
            rows.append(price)
            needing = work.needs[work.link_remedy[links], enabling]
            used.append(np.asarray((extents[:, needing] > 0).any(axis=1)))
        combined = np.tile(base, (len(extents), 1))
        for row, where in zip(rows, used, strict=True):
            for combination in np.flatnonzero(where):
                combined[combination] += row
        return combined

    def _others(self, link: int) -> Singles:
        """The most that other links ask of this link's remedy, (D,), or a plain 0."""
        remedy = self.work.link_remedy[link]
        others = self.links_of[remedy][self.links_of[remedy] != link]
        if not others.size:
            return np.zeros((), dtype=np.float32)
        most: Singles = self.draws.asked[others[0]]
        for other in others[1:]:
            most = np.maximum(most, self.draws.asked[other])
        return most


def _means(excess: Singles, slices: list[slice]) -> Floats:
    """Mean excess over the pot, mean overrun, chance within, by care class: (S, D) to (3, S, 3)."""
    over = np.maximum(excess, 0)
    means = np.empty((3, len(excess), len(slices)))
    for care_class, part in enumerate(slices):
        # Pairwise sums in single precision. A matrix product would do, but the threads of a linear
        # algebra library cost several times more than this work when the processor is shared.
        means[0, :, care_class] = np.add.reduce(excess[:, part], axis=1)
        means[1, :, care_class] = np.add.reduce(over[:, part], axis=1)
        means[2, :, care_class] = np.count_nonzero(excess[:, part] <= 0, axis=1)
        means[:, :, care_class] /= excess[0, part].size
    return means


@lru_cache(maxsize=4096)
def _combinations(chance: bytes, extent: bytes, links: int) -> tuple[Floats, Floats]:
    """The distinct combinations of extents that a checkpoint's links may ask for.

    chance, extent: the links' tables (n, 5) as bytes, which most boats of a list share.
    Returns the combinations (S, n) and the probability of each at each level (S, 5).
    """
    called_chance = np.frombuffer(chance).reshape(links, LEVELS)
    called_extent = np.frombuffer(extent).reshape(links, LEVELS)
    called: Bools = (np.arange(2**links)[:, None] >> np.arange(links)) & 1 == 1  # (2^n, n)
    odds = np.where(called[:, :, None], called_chance, 1 - called_chance).prod(axis=1)
    asked = np.where(called[:, :, None], called_extent, 0.0).transpose(0, 2, 1)
    possible = odds > 0
    extents, which = np.unique(asked[possible], axis=0, return_inverse=True)
    level = np.broadcast_to(np.arange(LEVELS), odds.shape)[possible]
    probability = np.zeros((len(extents), LEVELS))
    np.add.at(probability, (which.ravel(), level), odds[possible])
    return extents, probability
