"""The cost of a boat if one checkpoint were at a given level: the table used by next looks.

The expected cost is exact (`expected.work_by_level`). The overrun of the budget is not a sum over
jobs, so it is taken from the draws. Given a care class, and one draw of the graders if the belief
is mixed, the levels of the other checkpoints do not depend on this one. So the mean overrun with
the checkpoint at t is that over the draws of the class with level t put in: its own calls are
removed, those of level t are added, and remedies and enabling work shared with other calls are
recounted. Graders under whom that level is likelier weigh more, as in the exact means.
The calls of the checkpoint are not drawn again but summed over exactly: a checkpoint has few
combinations of calls, and each is priced once for all levels. All levels use the same draws, so
differences between levels are steadier than the figures themselves.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.expected import IMPOSSIBLE, Expected, work_by_level
from apps.reckoning.levels import LEVELS
from apps.reckoning.simulation import Draws, Singles
from apps.reckoning.work import Work


@dataclass(frozen=True, slots=True, eq=False)
class ByLevel:
    """Of one boat, given the care class and one checkpoint's level; all (J, 3, 5).

    all_in: expected all-in cost. overrun: expected max(0, upfront - budget). within: P(upfront <=
    budget).
    """

    all_in: Floats
    overrun: Floats
    within: Floats


def by_level(
    draws: Draws,
    care: Floats,
    level_given_care: Floats,
    work: Work,
    expected: Expected,
    budget: float,
) -> ByLevel:
    """The costs with every level of every checkpoint put into the draws.

    care, level_given_care, work: as simulated. expected: of the same belief, work and purchase.
    """
    runs = _Runs.of(draws)
    swap = _Swap(draws, work, (draws.upfront - budget).astype(np.float32), runs)
    share = runs.share(level_given_care)  # (J, 3, R, 5)
    # As if the checkpoint called for nothing that cannot wait; such calls are added below.
    tables = np.einsum("jcrt,xr->xjct", share, runs.beyond(swap.excess[None])[:, 0])
    chance, extent = work.chance, work.extent
    urgent = np.flatnonzero(work.now[work.link_remedy])
    for checkpoint in np.unique(work.link_checkpoint[urgent]):
        links = urgent[work.link_checkpoint[urgent] == checkpoint]
        triggers = _triggers(chance[links].tobytes(), extent[links].tobytes(), len(links))
        priced = np.einsum("xsr,st->xrt", swap.priced(links, triggers), triggers.chance)
        tables[:, checkpoint] = np.einsum("crt,xrt->xct", share[checkpoint], priced)
    mean_work, by_level = work_by_level(care, level_given_care, work)
    return ByLevel(expected.all_in + by_level - mean_work, *tables)


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """The R runs of draws with the same care class and draw of the graders; all (R,)."""

    start: Ints
    size: Ints
    care: Ints
    graders: Ints

    @classmethod
    def of(cls, draws: Draws) -> "_Runs":
        changes = np.diff(draws.care, prepend=-1) | np.diff(draws.graders, prepend=-1)
        start = np.flatnonzero(changes)
        size = np.diff(start, append=len(draws))
        return cls(start, size, draws.care[start].astype(np.intp), draws.graders[start])

    def means(self, values: Floats | Singles) -> Floats:
        """Mean of (..., D) in each run, (..., R)."""
        # Sums of short runs in single precision. A matrix product would be slower on a shared
        # processor:
        # the linear algebra library starts several threads.
        return np.asarray(np.add.reduceat(values, self.start, axis=-1) / self.size)

    def beyond(self, excess: Singles) -> Floats:
        """Mean overrun of the budget and chance within it, in each run: (S, D) to (2, S, R)."""
        within = (excess <= 0).astype(np.float32)
        return np.stack([self.means(np.maximum(excess, 0)), self.means(within)])

    def share(self, level_given_care: Floats) -> Floats:
        """Weight of each run, given the care class and a level: (J, 3, R, 5), summing to 1.

        level_given_care: (3, J, 5) or (K, 3, J, 5). A class without draws is almost impossible, and
        so is a level of probability 0: then all draws, or all of the class, are used instead.
        """
        by_graders = level_given_care.reshape(-1, *level_given_care.shape[-3:])
        chance = by_graders[self.graders, self.care].swapaxes(0, 1) + IMPOSSIBLE  # (J, R, 5)
        classes = np.arange(by_graders.shape[1])[:, None]
        of_class = (self.care == classes) | ~np.isin(classes, self.care)  # (3, R)
        weight = of_class[:, :, None] * (self.size[:, None] * chance)[:, None]
        return np.asarray(weight / weight.sum(axis=2, keepdims=True))


@dataclass(frozen=True, slots=True, eq=False)
class _Triggers:
    """The S distinct combinations of extents that a checkpoint's n links may ask for.

    extents: (S, n). chance: (S, 5) of each at each level. steps: for each link, each extent above 0
    that it may ask for and the combinations in which it does.
    """

    extents: Floats
    chance: Floats
    steps: tuple[tuple[tuple[float, Ints], ...], ...]


class _Swap:
    """One boat's draws, prepared for replacing a checkpoint's calls by others.

    All calls, remedies and enabling works here are those that cannot wait.
    """

    def __init__(self, draws: Draws, work: Work, excess: Singles, runs: _Runs) -> None:
        """excess: (D,) upfront minus budget."""
        self.draws, self.work, self.excess, self.runs = draws, work, excess, runs
        called = draws.extent > 0
        # How many remedies need each enabling work (M, D).
        self.triggering = [
            called[needs & work.now].sum(axis=0, dtype=np.int16) for needs in work.needs.T
        ]
        self.links_of = [
            np.flatnonzero(work.link_remedy == remedy) for remedy in range(len(work.remedies))
        ]

    def priced(self, links: Ints, triggers: _Triggers) -> Floats:
        """Overrun and chance within, by combination of these links' calls, (2, S, R).

        The overrun of the budget is no sum over jobs, so it needs the upfront cost of every
        combination in full.
        """
        draws, remedies = self.draws, self.work.link_remedy[links]
        elsewhere = [self._elsewhere(link) for link in links.tolist()]
        upfront = self.excess.copy()
        for remedy, asked in zip(remedies.tolist(), elsewhere, strict=True):
            saved = draws.extent[remedy] if asked is None else draws.extent[remedy] - asked
            upfront -= draws.remedy_price[remedy] * saved
        needs = self.work.needs[remedies]  # (n, M)
        alone = {}
        for enabling in np.flatnonzero(needs.any(axis=0)).tolist():
            first = self._only_here(enabling, remedies, elsewhere)
            alone[enabling] = cost = draws.enabling_price[enabling] * first
            upfront -= cost * draws.needed_now[enabling]

        combined = np.empty((len(triggers.extents), len(upfront)), dtype=np.float32)  # (S, D)
        combined[:] = upfront
        for remedy, asked, steps in zip(remedies.tolist(), elsewhere, triggers.steps, strict=True):
            for extent, where in steps:
                more = np.float32(extent) if asked is None else np.maximum(extent - asked, 0)
                cost = draws.remedy_price[remedy] * more
                for combination in where:
                    combined[combination] += cost
        for enabling, cost in alone.items():
            needing = (triggers.extents[:, needs[:, enabling]] > 0).any(axis=1)
            for combination in np.flatnonzero(needing):
                combined[combination] += cost
        return self.runs.beyond(combined)

    def _only_here(self, enabling: int, remedies: Ints, elsewhere: list[Singles | None]) -> Bools:
        """Draws in which only the calls of some links need the enabling work, (D,).

        remedies: of the links. elsewhere: the extent that other links ask of each remedy.
        """
        triggering = self.triggering[enabling]
        for remedy, asked in zip(remedies.tolist(), elsewhere, strict=True):
            if self.work.needs[remedy, enabling]:
                mine = self.draws.extent[remedy] > 0
                triggering = triggering - (mine if asked is None else mine & (asked == 0))
        return np.asarray(triggering == 0)

    def _elsewhere(self, link: int) -> Singles | None:
        """The most that other links ask of this link's remedy, (D,); None without other links."""
        links = self.links_of[self.work.link_remedy[link]]
        most: Singles | None = None
        for other in links[links != link]:
            asked = self.draws.asked[other]
            most = asked if most is None else np.maximum(most, asked)
        return most


@lru_cache(maxsize=4096)
def _triggers(chance: bytes, extent: bytes, links: int) -> _Triggers:
    """Combine one checkpoint's links; their tables (n, 5) as bytes, which most boats share."""
    triggered_chance = np.frombuffer(chance).reshape(links, LEVELS)
    triggered_extent = np.frombuffer(extent).reshape(links, LEVELS)
    called: Bools = (np.arange(2**links)[:, None] >> np.arange(links)) & 1 == 1  # (2^n, n)
    odds = np.where(called[:, :, None], triggered_chance, 1 - triggered_chance).prod(axis=1)
    asked = np.where(called[:, :, None], triggered_extent, 0.0).transpose(0, 2, 1)
    possible = odds > 0
    extents, which = np.unique(asked[possible], axis=0, return_inverse=True)
    level = np.broadcast_to(np.arange(LEVELS), odds.shape)[possible]
    probability = np.zeros((len(extents), LEVELS))
    np.add.at(probability, (which.ravel(), level), odds[possible])
    steps = tuple(
        tuple((float(e), np.flatnonzero(column == e)) for e in np.unique(column) if e > 0)
        for column in extents.T
    )
    return _Triggers(extents, probability, steps)
