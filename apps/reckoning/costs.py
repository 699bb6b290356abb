"""The cost of a boat (model section 3): one import for callers.

work: the inputs. expected: exact means. moments: means and spread. simulation: draws. rollup: the
figures people read. Prices for a boat come from pricing, yearly costs from ownership.

A boat of two checkpoints, whose keel joint may need resealing and whose rig may need renewal:

>>> import numpy as np
>>> from apps.reckoning.costs import Prices, Purchase, Work
>>> from apps.reckoning.costs import expected_costs, moments, rollup, simulate
>>> def prices(low, likely, high):
...     none = np.zeros(len(low))
...     points = [np.array(values, float) for values in (low, likely, high)]
...     return Prices(*points, labour_share=none + 0.6, quoted=none > 0, quote_sd=none)
>>> work = Work(
...     remedies=prices([700, 4000], [1600, 6000], [3500, 9000]),
...     enabling=prices([360], [460], [720]),  # lift-out
...     needs=np.array([[True], [False]]),
...     now=np.array([True, False]),
...     link_checkpoint=np.array([0, 1]),
...     link_remedy=np.array([0, 1]),
...     link_probability=np.array([[0, 0.1, 0.8, 1, 1], [0, 0, 0.3, 1, 1]]),
...     link_extent=np.ones((2, 5)),
... )
>>> care = np.array([0.25, 0.50, 0.25])
>>> level = np.array([[0.4, 0.3, 0.2, 0.1, 0.0], [0.1, 0.3, 0.4, 0.15, 0.05]])
>>> level_given_care = np.stack([level, level, level])
>>> purchase = Purchase(asking=30_000, expected_share=0.9, share_sd=0.05, fixed=1_500)
>>> exact = moments(care, level_given_care, work, purchase)
>>> round(exact.all_in_mean)
31127
>>> expected = expected_costs(care, level_given_care, work, purchase)
>>> draws = simulate(care, level_given_care, work, purchase, seed=7)
>>> figures = rollup(
...     draws, work, purchase, expected, 34_000, area=np.array([0, 1]), cause=np.array([0, 2])
... )
>>> round(figures.all_in.mean)
31127
>>> bool(abs(draws.all_in.mean() - exact.all_in_mean) < 4 * exact.all_in_sd / len(draws) ** 0.5)
True
"""

from apps.reckoning.expected import Expected, expected_costs, expected_extents
from apps.reckoning.moments import Moments, moments
from apps.reckoning.rollup import CAUSES, CostParts, CostRange, CostRollup, rollup
from apps.reckoning.simulation import DRAWS, Draws, simulate
from apps.reckoning.work import YARD_RATE_SD, Prices, Purchase, Work

__all__ = [
    "CAUSES",
    "DRAWS",
    "YARD_RATE_SD",
    "CostParts",
    "CostRange",
    "CostRollup",
    "Draws",
    "Expected",
    "Moments",
    "Prices",
    "Purchase",
    "Work",
    "expected_costs",
    "expected_extents",
    "moments",
    "rollup",
    "simulate",
]
