"""Expected utility of one boat for many beliefs, on the same few draws.

The effect of a look is computed on common random numbers, so the error of so few draws cancels in
the difference. A test compares it with `costs.simulate`.
"""

import numpy as np

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.costs import Purchase, Work, simulate
from apps.reckoning.levels import LEVELS
from apps.reckoning.utility import regretted_surplus

DRAWS = 512


class Quick:
    """One boat's costs, ready for any belief about her levels."""

    def __init__(
        self,
        work: Work,
        purchase: Purchase,
        *,
        valuation: float,
        budget: float,
        penalty: float,
        seed: int,
        draws: int = DRAWS,
    ) -> None:
        self.work, self.valuation, self.budget, self.penalty = work, valuation, budget, penalty
        rng = np.random.default_rng(seed)
        checkpoints = int(work.link_checkpoint.max()) + 1
        self._place = (rng.permutation(draws) + 0.5) / draws
        self._level_chance = rng.random((checkpoints, draws), dtype=np.float32)
        # Links of one remedy side by side.
        order: Ints = np.argsort(work.link_remedy, kind="stable")
        called_for, self._starts = np.unique(work.link_remedy[order], return_index=True)
        self._at = work.link_checkpoint[order]
        self._row = LEVELS * np.arange(len(order))[:, None]
        self._trigger_chance = rng.random((len(order), draws), dtype=np.float32)
        self._asked = np.where(work.chance > 0, work.extent, 0.0)[order].astype(np.float32).ravel()
        self._chance = work.chance[order].astype(np.float32).ravel()
        sound = np.tile(np.eye(LEVELS)[0], (3, checkpoints, 1))
        priced = simulate(np.full(3, 1 / 3), sound, work, purchase, seed=seed, draws=draws)
        fees = purchase.fixed + purchase.reserve
        self._bought = priced.price * (1 + purchase.tax_rate) + fees
        now, price = work.now[called_for, None], priced.remedy_price[called_for]  # (K, D)
        self._now_price, self._later_price = price * now, price * ~now
        self._enabling_price = priced.enabling_price  # (M, D)
        self._needs = work.needs[called_for].T.astype(np.float32)  # (M, K)
        self._needs_now = self._needs * now[:, 0]

    def __call__(self, care: Floats, level_given_care: Floats) -> float:
        """E[U]. care: (3,) or (K, 3); level_given_care: (3, J, 5) or (K, 3, J, 5)."""
        checkpoints = len(self._level_chance)
        by_state = level_given_care.reshape(-1, *level_given_care.shape[-2:])[:, :checkpoints]
        edges = np.cumsum(by_state, axis=2)[:, :, : LEVELS - 1].astype(np.float32)
        edges[:, ~by_state.any(axis=(0, 2))] = 1  # what does not apply is at level 0
        state = np.searchsorted(np.cumsum(care.ravel()), self._place)
        state = np.minimum(state, len(edges) - 1)
        level = np.zeros(self._level_chance.shape, dtype=np.int8)
        for edge in edges.transpose(2, 1, 0):
            level += self._level_chance >= edge[:, state]
        at = level[self._at] + self._row
        asked = self._asked[at] * (self._trigger_chance < self._chance[at])
        extent = np.maximum.reduceat(asked, self._starts, axis=0)  # (K, D)
        called = (extent > 0).astype(np.float32)
        needed, needed_now = self._needs @ called > 0, self._needs_now @ called > 0
        upfront = self._bought + np.einsum("kd,kd->d", extent, self._now_price)
        upfront += np.einsum("md,md->d", needed_now, self._enabling_price)
        later = np.einsum("kd,kd->d", extent, self._later_price)
        later += np.einsum("md,md->d", needed & ~needed_now, self._enabling_price)
        all_in = upfront + later
        utility = regretted_surplus(self.valuation, all_in, upfront, self.budget, self.penalty)
        return float(utility.mean())
