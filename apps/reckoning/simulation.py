"""Draws of the work that one boat may need, and of its cost.

A boat's care class, levels, calls and price are drawn from its own seed, so that a recompute
without new facts gives the same figures. The actual costs of jobs are drawn from fixed seeds and
used again for every boat: common random numbers, which make the difference between two boats
steadier than either of them.

In reality boats have only two things in common: the yards' rates of the year, and the graders if
the belief is mixed over draws of them. Draws are sorted by care class, so that every condition on
it is a slice. Each draw also has an outcome number, assigned at random. Compared by outcome, boats
share yard rate and graders, and nothing else: one boat's care, or the cost of a job on her, gives
no information about another boat's.

Costs are held in single precision, where a figure of 100,000 is accurate to 0.01; sums over draws
are taken in double. Levels and calls are drawn with 15 bits, so a chance is at most 0.00002 off;
the standard error of so many draws is up to 0.006.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import TypeVar

import numpy as np
import scipy  # its parts are loaded on first use
from numpy.typing import NDArray

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.spreading import BOAT, EvenPlaces, Places, in_units
from apps.reckoning.work import YARD_RATE_SD, Prices, Purchase, Work, check_belief

DRAWS = 8192
Levels = NDArray[np.int8]
Singles = NDArray[np.float32]
Number = TypeVar("Number", bound=np.generic)

# Streams of the numbers common to all boats: (stream, position in the list of jobs).
_REMEDY, _ENABLING, _YARD = 1, 2, 3


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """One boat's simulation: D outcomes of J checkpoints, T links, K remedies, M enabling works.

    care: (D,) class, rising. graders: (D,) which draw of the graders, rising within a class.
    outcome: (D,) its number among the outcomes common to all boats (`by_outcome`).
    level: (J, D); 0 where the checkpoint does not apply.
    asked: (T, D) extent of its remedy that the link asks for, 0 where it does not call for it.
    extent: (K, D) of each remedy, the most that any link asks for.
    needed: (M, D) whether the enabling work is needed. needed_now: (M, D) whether a remedy that
    cannot wait needs it.
    remedy_price, enabling_price: (K, D), (M, D) per unit of extent, yard rate and all. remedy_cost:
    (K, D) of each remedy at its extent.
    price: (D,) price of the boat itself, before tax. work_cost: (D,) remedies and enabling work.
    upfront: (D,) cost before she sails: the purchase with the reserve, the remedies that
    cannot wait and the enabling work that these need. all_in: (D,) that and all other work.
    """

    care: Levels
    graders: Ints
    outcome: Ints
    level: Levels
    asked: Singles
    extent: Singles
    needed: Bools
    needed_now: Bools
    remedy_price: Singles
    enabling_price: Singles
    remedy_cost: Singles
    price: Floats
    work_cost: Floats
    upfront: Floats
    all_in: Floats

    def __len__(self) -> int:
        return len(self.all_in)

    def by_outcome(self, values: NDArray[Number]) -> NDArray[Number]:
        """Values of the draws (..., D) in the order of the outcomes common to all boats."""
        return by_outcome(values, self.outcome)


def by_outcome(values: NDArray[Number], outcome: Ints) -> NDArray[Number]:
    """Values (..., D) in the order of their outcomes (D,)."""
    ordered = np.empty_like(values)
    ordered[..., outcome] = values
    return ordered


def simulate(
    care: Floats,
    level_given_care: Floats,
    work: Work,
    purchase: Purchase,
    *,
    seed: int,
    draws: int = DRAWS,
) -> Draws:
    """Draw the work that the boat may need, and its cost.

    care: (3,) P(care class); level_given_care: (3, J, 5) P(level | care class), zeros where the
    checkpoint does not apply; or both mixed over draws of the graders (see check_belief). seed: the
    boat's own, 0 or more. Deterministic. Raises ValueError naming the field.
    """
    applies = check_belief(care, level_given_care, work)
    generator = np.random.default_rng(seed)
    care_class, graders, outcome = _states(care.reshape(-1, 3), draws, generator)
    by_graders = level_given_care.reshape(care.size // 3, *level_given_care.shape[-3:])
    places = EvenPlaces(BOAT, len(applies) + len(work.link_remedy), draws, generator)
    level = _levels(care_class, graders, by_graders, places[: len(applies)], applies)
    asked, extent = _triggers(level, work, applies, places)
    called = extent > 0
    needed, needed_now = np.zeros((2, len(work.enabling), draws), dtype=bool)
    for enabling, needs in enumerate(work.needs.T):
        needed_now[enabling] = called[needs & work.now].any(axis=0)
        needed[enabling] = needed_now[enabling] | called[needs & ~work.now].any(axis=0)

    yard_factor = _yard_factor(draws)[outcome]
    remedy_price = _job_prices(work.remedies, _REMEDY, yard_factor)
    enabling_price = _job_prices(work.enabling, _ENABLING, yard_factor)
    remedy_cost = remedy_price * extent
    now_cost = _total(remedy_cost, work.now) + _total(enabling_price * needed_now)
    later_cost = _total(remedy_cost, ~work.now)
    later_cost += _total(enabling_price * (needed & ~needed_now))
    price = purchase.asking * _mean_preserving(
        generator.standard_normal(draws), purchase.share_log_sd, purchase.expected_share
    )
    bought = price * (1 + purchase.tax_rate) + purchase.fixed + purchase.reserve
    return Draws(
        care=care_class,
        graders=graders,
        outcome=outcome,
        level=level,
        asked=asked,
        extent=extent,
        needed=needed,
        needed_now=needed_now,
        remedy_price=remedy_price,
        enabling_price=enabling_price,
        remedy_cost=remedy_cost,
        price=price,
        work_cost=now_cost + later_cost,
        upfront=bought + now_cost,
        all_in=bought + now_cost + later_cost,
    )


def yard_factor(draws: Draws) -> Singles:
    """The year's yard rate relative to the assumed one, in the order of the draws, (D,)."""
    return _yard_factor(len(draws))[draws.outcome]


def _total(cost: Singles, among: Bools | None = None) -> Floats:
    """Cost of all or some jobs together in every draw, (P, D) to (D,), summed in double."""
    total = np.zeros(cost.shape[1])
    for job in range(len(cost)) if among is None else np.flatnonzero(among):
        total += cost[job]
    return total


def _states(care: Floats, draws: int, generator: np.random.Generator) -> tuple[Levels, Ints, Ints]:
    """Care class, draw of the graders and outcome of each draw, (D,) each, sorted by care class.

    care: (K, 3). All in their proportions to within one draw. Draws of the graders have the same
    runs of outcomes on every boat; within a run, any class may have any outcome.
    """
    place = (np.arange(draws) + 0.5) / draws
    state = np.minimum(np.searchsorted(np.cumsum(care), place, side="right"), care.size - 1)
    graders, care_class = np.divmod(state, care.shape[1])
    outcome = np.argsort(graders + generator.random(draws))
    order = np.argsort(care_class, kind="stable")
    return care_class[order].astype(np.int8), graders[order], outcome[order]


def _levels(
    care_class: Levels, graders: Ints, level_given_care: Floats, place: Places, applies: Bools
) -> Levels:
    """Levels (J, D) by the inverse distribution function; level_given_care: (K, 3, J, 5)."""
    checkpoints, draws = level_given_care.shape[-2], len(care_class)
    by_state = np.concatenate(level_given_care.swapaxes(0, 1))  # as the draws are sorted
    edges = np.cumsum(by_state, axis=2)[:, :, :4]
    # A checkpoint that does not apply has no probability anywhere: level 0 by convention.
    edges[:, ~applies] = 1
    state = care_class.astype(np.intp) * (len(edges) // 3) + graders
    count = np.bincount(state, minlength=len(edges))
    level = np.zeros((checkpoints, draws), dtype=np.int8)
    for edge in in_units(edges).transpose(2, 1, 0):
        level += (place >= np.repeat(edge, count, axis=1)).view(np.int8)
    return level


def _triggers(
    level: Levels, work: Work, applies: Bools, places: EvenPlaces
) -> tuple[Singles, Singles]:
    """The extent that each link asks for (T, D), and of each remedy (K, D): the most asked for."""
    links, draws = len(work.link_remedy), level.shape[1]
    chance, extent_at = in_units(work.chance), work.extent.astype(np.float32)
    least, most = extent_at.min(axis=1, where=chance > 0, initial=np.inf), extent_at.max(axis=1)
    asked = np.zeros((links, draws), dtype=np.float32)
    extent = np.zeros((len(work.remedies), draws), dtype=np.float32)
    order = np.argsort(work.link_checkpoint, kind="stable")
    order = order[applies[work.link_checkpoint[order]]]
    for checkpoint, of_checkpoint in groupby(
        order.tolist(), work.link_checkpoint.tolist().__getitem__
    ):
        at = level[checkpoint].astype(np.intp)
        for link in of_checkpoint:
            here = asked[link]
            here[:] = places[len(applies) + link] < chance[link].take(at)
            if least[link] != most[link]:
                here *= extent_at[link].take(at)
            elif most[link] != 1:
                here *= most[link]
            remedy = extent[work.link_remedy[link]]
            np.maximum(remedy, here, out=remedy)
    return asked, extent


def _job_prices(prices: Prices, stream: int, yard_factor: Singles) -> Singles:
    """Price of a unit of each job (P, D), the yard-rate factor (D,) on its labour."""
    draws = len(yard_factor)
    alpha, beta = prices.shapes
    # A quote is its amount times a factor; an estimate runs from low, over the span.
    low = np.where(prices.quoted, 0.0, prices.low).astype(np.float32)
    span = np.where(prices.quoted, prices.likely, prices.span).astype(np.float32)
    share = prices.yard_share.astype(np.float32)
    moved = yard_factor - 1
    price = np.empty((len(prices), draws), dtype=np.float32)
    for job, row in enumerate(price):
        if prices.quoted[job]:
            sd = float(prices.quote_sd[job])
            row[:] = span[job]
            if sd > 0:
                row *= _mean_preserving(_normal(stream, job, draws), sd, 1.0)
        elif span[job] > 0:
            unit = _beta(stream, job, float(alpha[job]), float(beta[job]), draws)
            np.multiply(unit, span[job], out=row)
            row += low[job]
        else:
            row[:] = low[job]
        if share[job]:
            row *= 1 + share[job] * moved
    return price


@lru_cache(maxsize=1024)
def _beta(stream: int, job: int, alpha: float, beta: float, draws: int) -> Singles:
    """Beta draws for one job (D,), the same for every boat."""
    values = np.random.default_rng([stream, job]).beta(alpha, beta, draws).astype(np.float32)
    values.flags.writeable = False
    return values


@lru_cache(maxsize=256)
def _normal(stream: int, job: int, draws: int) -> Floats:
    values = np.random.default_rng([stream, job]).standard_normal(draws)
    values.flags.writeable = False
    return values


@lru_cache(maxsize=4)
def _yard_factor(draws: int) -> Singles:
    """The year's yard rate relative to the assumed one (D,): lognormal, mean 1.

    Drawn at the midpoints of equal slices of probability, in random order: all labour of all boats
    shares this one factor, so it must not have a sampling error of its own.
    """
    place = np.random.default_rng([_YARD]).permutation(draws)
    log_sd = float(np.sqrt(np.log1p(YARD_RATE_SD**2)))
    factor = _mean_preserving(scipy.special.ndtri((place + 0.5) / draws), log_sd, 1.0).astype(
        np.float32
    )
    factor.flags.writeable = False
    return factor


def _mean_preserving(normal: Floats, log_sd: float, mean: float) -> Floats:
    """Lognormal draws of the given mean from standard normal ones."""
    lognormal: Floats = mean * np.exp(log_sd * normal - log_sd**2 / 2)
    return lognormal
