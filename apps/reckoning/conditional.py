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
    # A class that no draw fell into is next to impossible: all draws stand in for it.
    slices = [part if part.stop > part.start else slice(None) for part in draws.care_slices]
    untouched = _means(excess[None], slices)  # a checkpoint that calls for nothing
    tables = np.broadcast_to(
        untouched[:, 0, None, :, None], (3, draws.level.shape[0], 3, LEVELS)
    ).copy()
    swap = _Swap(draws, work, excess)
    chance, extent = work.chance, work.extent
    for checkpoint in np.unique(work.link_checkpoint):
        links = np.flatnonzero(work.link_checkpoint == checkpoint)
        calls = _calls(chance[links].tobytes(), extent[links].tobytes(), len(links))
        priced = _means(swap.priced(links, calls), slices)  # (3, S, 3)
        tables[:, checkpoint] = np.einsum("xsc,st->xct", priced, calls.chance)
    return ByLevel(all_in=tables[0] + pot, overrun=tables[1], within=tables[2])


@dataclass(frozen=True, slots=True, eq=False)
class _Calls:
    """The S distinct combinations of extents that a checkpoint's n links may ask for.

    extents: (S, n). chance: (S, 5) of each at each level. steps: for each link, each extent above 0
    that it may ask for and the combinations in which it does.
    """

    extents: Floats
    chance: Floats
    steps: tuple[tuple[tuple[float, Ints], ...], ...]


class _Swap:
    """One boat's draws, ready to have a checkpoint's calls taken out and others put in."""

    def __init__(self, draws: Draws, work: Work, excess: Singles) -> None:
        self.draws, self.work, self.excess = draws, work, excess
        called = draws.extent > 0
        # (M, D) how many remedies need each enabling work.
        self.callers = [called[needs].sum(axis=0, dtype=np.int16) for needs in work.needs.T]
        self.links_of = [
            np.flatnonzero(work.link_remedy == remedy) for remedy in range(len(work.remedies))
        ]

    def priced(self, links: Ints, calls: _Calls) -> Singles:
        """All-in less pot of every combination of these links' calls, (S, D)."""
        draws, remedies = self.draws, self.work.link_remedy[links].tolist()
        needs = self.work.needs[remedies]  # (n, M)
        elsewhere = [self._elsewhere(link) for link in links.tolist()]
        only_here = {
            enabling: self._only_here(enabling, remedies, elsewhere)
            for enabling in np.flatnonzero(needs.any(axis=0)).tolist()
        }
        without = self.excess.copy()  # all that only these links call for taken out
        for remedy, asked in zip(remedies, elsewhere, strict=True):
            saved = draws.extent[remedy] if asked is None else draws.extent[remedy] - asked
            without -= draws.remedy_price[remedy] * saved
        for enabling, here in only_here.items():
            without -= draws.enabling_price[enabling] * (draws.needed[enabling] & here)

        combined = np.empty((len(calls.extents), len(draws)), dtype=np.float32)
        combined[:] = without
        for remedy, asked, steps in zip(remedies, elsewhere, calls.steps, strict=True):
            for extent, where in steps:
                more = np.float32(extent) if asked is None else np.maximum(extent - asked, 0)
                cost = draws.remedy_price[remedy] * more
                for combination in where:
                    combined[combination] += cost
        for enabling, here in only_here.items():
            cost = draws.enabling_price[enabling] * here
            needing = calls.extents[:, needs[:, enabling]]
            for combination in np.flatnonzero((needing > 0).any(axis=1)):
                combined[combination] += cost
        return combined

    def _only_here(
        self, enabling: int, remedies: list[int], elsewhere: list[Singles | None]
    ) -> Bools:
        """Draws in which nothing but some links' own calls needs the enabling work, (D,).

        remedies: of those links. elsewhere: what other links ask of each.
        """
        callers = self.callers[enabling]
        for remedy, asked in zip(remedies, elsewhere, strict=True):
            if self.work.needs[remedy, enabling]:
                mine = self.draws.extent[remedy] > 0
                callers = callers - (mine if asked is None else mine & (asked == 0))
        return np.asarray(callers == 0)

    def _elsewhere(self, link: int) -> Singles | None:
        """The most that other links ask of this link's remedy, (D,); None without other links."""
        links = self.links_of[self.work.link_remedy[link]]
        most: Singles | None = None
        for other in links[links != link]:
            asked = self.draws.asked[other]
            most = asked if most is None else np.maximum(most, asked)
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
def _calls(chance: bytes, extent: bytes, links: int) -> _Calls:
    """Combine one checkpoint's links; their tables (n, 5) as bytes, which most boats share."""
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
    steps = tuple(
        tuple((float(e), np.flatnonzero(column == e)) for e in np.unique(column) if e > 0)
        for column in extents.T
    )
    return _Calls(extents, probability, steps)
