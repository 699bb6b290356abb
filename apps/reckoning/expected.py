"""Exact expected work and cost of a boat, without simulation and without second moments: as they
are, and given one checkpoint's level.

Given the care class (and the draw of the graders if the belief is mixed), levels are independent
between checkpoints, so the chance that no call of a set happens is a product over checkpoints.
`moments` adds the spread, which takes much longer.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.priors import CARE_CLASSES
from apps.reckoning.work import Purchase, Work, check_belief

IMPOSSIBLE = 1e-12  # added to chances to avoid a division by 0


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected costs of one boat, in the list's currency.

    price: paid for the boat, before tax. upfront: the cost before she sails. all_in: that and all
    other work. remedy_needed, remedy_cost: (K,) chance that each is called for, and cost.
    enabling_needed: (M,) chance. enabling_now, enabling_later: (M,) cost where a remedy that cannot
    wait needs it, and where only others do.
    """

    price: float
    upfront: float
    all_in: float
    remedy_needed: Floats
    remedy_cost: Floats
    enabling_needed: Floats
    enabling_now: Floats
    enabling_later: Floats


def expected_costs(
    care: Floats, level_given_care: Floats, work: Work, purchase: Purchase
) -> Expected:
    """Means of the costs that `simulate` draws.

    care: (3,); level_given_care: (3, J, 5), zeros where a checkpoint does not apply; or both mixed
    over draws of the graders (see check_belief). Raises ValueError naming the field.
    """
    check_belief(care, level_given_care, work)
    care, level_given_care = components_of(care, level_given_care)
    remedy_cost = _extents(care, level_given_care, work) * work.remedies.mean
    needs, urgent = work.needs[work.link_remedy], work.now[work.link_remedy]  # (T, M), (T,)
    needed_now, needed = (
        np.array([_any_triggered(care, level_given_care, work, among) for among in each.T])
        for each in (needs & urgent[:, None], needs)
    )
    enabling_now = needed_now * work.enabling.mean
    enabling_later = (needed - needed_now) * work.enabling.mean
    upfront = purchase.expected_price * (1 + purchase.tax_rate) + purchase.fixed + purchase.reserve
    upfront += float(remedy_cost[work.now].sum() + enabling_now.sum())
    return Expected(
        price=purchase.expected_price,
        upfront=upfront,
        all_in=upfront + float(remedy_cost[~work.now].sum() + enabling_later.sum()),
        remedy_needed=_called(care, level_given_care, work, work.chance),
        remedy_cost=remedy_cost,
        enabling_needed=needed,
        enabling_now=enabling_now,
        enabling_later=enabling_later,
    )


def expected_extents(care: Floats, level_given_care: Floats, work: Work) -> Floats:
    """Expected extent of each remedy (K,). Arguments and errors as for `expected_costs`."""
    check_belief(care, level_given_care, work)
    return _extents(*components_of(care, level_given_care), work)


def work_by_level(care: Floats, level_given_care: Floats, work: Work) -> tuple[float, Floats]:
    """Expected cost of the work, and given the care class and one checkpoint's level, (J, 3, 5).

    Graders under whom that level is likelier weigh more: if a part turns out worse than they
    reported, other parts may be worse too. Arguments and errors as for `expected_costs`.
    """
    check_belief(care, level_given_care, work)
    draws, classes = care.size // len(CARE_CLASSES), len(CARE_CLASSES)
    care, level = components_of(care, level_given_care)
    events = _events(work)
    at = level[:, events.checkpoint]  # (C, P, 5)
    none_here = np.maximum(1 - np.einsum("cpt,pt->cp", at, 1 - events.none), 0.0)
    none_elsewhere = _product_of_others(none_here, events.start)
    none = none_here * none_elsewhere
    value = events.value[:, None]
    cost = value * (none[:, :, None] - none_elsewhere[:, :, None] * events.none)
    happens = events.value * (1 - none)
    anyway = happens[:, events.start].sum(axis=1)  # (C,)
    given = np.tile(anyway[:, None, None], level.shape[1:])
    order = np.argsort(events.checkpoint, kind="stable")
    touched, start = np.unique(events.checkpoint[order], return_index=True)
    given[:, touched] += np.add.reduceat(cost[:, order], start, axis=1)

    by_class = care.reshape(draws, classes)
    share = (by_class + IMPOSSIBLE) / (by_class + IMPOSSIBLE).sum(axis=0)
    given, level = (each.reshape(draws, classes, *level.shape[1:]) for each in (given, level))
    weight = share[:, :, None, None] * (level + IMPOSSIBLE)
    table = (weight * given).sum(axis=0) / weight.sum(axis=0)
    return float(care @ anyway), np.asarray(table.swapaxes(0, 1))


def components_of(care: Floats, level_given_care: Floats) -> tuple[Floats, Floats]:
    """(C,), and (C, J, 5): the care classes, of each draw of the graders if there are several."""
    return care.ravel(), level_given_care.reshape(care.size, *level_given_care.shape[-2:])


def _extents(care: Floats, level_given_care: Floats, work: Work) -> Floats:
    """E[extent]: the integral of P(extent > x), a step function over the links' extents."""
    extents, chance = work.extent, work.chance
    extent = np.zeros(len(work.remedies))
    for floor, width in _steps(work.link_remedy, extents, len(extent)):
        above = np.where(extents > floor, chance, 0.0)
        above[width[work.link_remedy] == 0] = 0.0
        extent += width * _called(care, level_given_care, work, above)
    return extent


def _steps(link_remedy: Ints, extents: Floats, count: int) -> Iterator[tuple[float, Floats]]:
    """Every extent, and the gap to the next greater one of each remedy that has it, (count,).

    0 where the remedy has no such extent, or none above it. Every remedy has the extent 0.
    """
    remedy = np.append(np.arange(count), np.repeat(link_remedy, LEVELS))
    value = np.append(np.zeros(count), extents)
    order = np.lexsort((value, remedy))
    remedy, value = remedy[order], value[order]
    width = np.where(np.diff(remedy, append=-1) == 0, np.diff(value, append=0.0), 0.0)
    rises = width > 0  # of several links with the same extent only the last rises
    for floor in np.unique(value[rises]).tolist():
        has = rises & (value == floor)
        of_remedy = np.zeros(count)
        of_remedy[remedy[has]] = width[has]
        yield floor, of_remedy


def _called(care: Floats, level_given_care: Floats, work: Work, chance: Floats) -> Floats:
    """Chance that each remedy is called for, (K,), given each link's chances, (T, 5)."""
    asks = chance.any(axis=1)
    level = level_given_care[:, work.link_checkpoint[asks]]
    called = np.einsum("ctl,tl->ct", level, chance[asks])
    order = np.argsort(work.link_remedy[asks], kind="stable")
    remedies, starts = np.unique(work.link_remedy[asks][order], return_index=True)
    needed = np.zeros(len(work.remedies))
    if len(remedies):
        none = np.multiply.reduceat(1 - called.T[order], starts, axis=0)
        needed[remedies] = np.maximum(1 - none, 0.0) @ care
    return needed


def _any_triggered(care: Floats, level_given_care: Floats, work: Work, among: Bools) -> float:
    """Chance that any of some links calls for its remedy. among: (T,)."""
    asked, untriggered = _untriggered(work, among)
    # A checkpoint that does not apply has no probability anywhere, and calls for nothing.
    called = np.einsum("cjl,jl->cj", level_given_care[:, asked], 1 - untriggered)
    return float(np.maximum(1 - (1 - called).prod(axis=1), 0.0) @ care)


@dataclass(frozen=True, slots=True, eq=False)
class _Events:
    """The P parts that checkpoints have in events that cost money, those of one event together.

    An event is a remedy beyond an extent, or an enabling work. checkpoint: (P,). none: (P, 5)
    chance that the checkpoint does not cause the event, at each level. value: (P,) cost of the
    event. start: of the parts of each event.
    """

    checkpoint: Ints
    none: Floats
    value: Floats
    start: Ints


def _events(work: Work) -> _Events:
    chance, extents = work.chance, work.extent
    event, checkpoint, none, value = [], [], [], []
    for n, (floor, width) in enumerate(
        _steps(work.link_remedy, extents, len(work.remedies)), start=1
    ):
        links = np.flatnonzero(width[work.link_remedy])
        remedy = work.link_remedy[links]
        event.append(n * len(work.remedies) + remedy)
        checkpoint.append(work.link_checkpoint[links])
        none.append(np.where(extents[links] > floor, 1 - chance[links], 1.0))
        value.append((width * work.remedies.mean)[remedy])
    for enabling, needs in enumerate(work.needs.T):
        asked, untriggered = _untriggered(work, needs[work.link_remedy])
        event.append(np.full(len(asked), -1 - enabling))
        checkpoint.append(asked)
        none.append(untriggered)
        value.append(np.full(len(asked), work.enabling.mean[enabling]))
    if not event:
        return _Events(
            np.empty(0, np.intp), np.empty((0, LEVELS)), np.empty(0), np.empty(0, np.intp)
        )
    of_event = np.concatenate(event)
    order = np.argsort(of_event, kind="stable")
    return _Events(
        checkpoint=np.concatenate(checkpoint)[order],
        none=np.concatenate(none)[order],
        value=np.concatenate(value)[order],
        start=np.unique(of_event[order], return_index=True)[1],
    )


def _untriggered(work: Work, among: Bools) -> tuple[Ints, Floats]:
    """Checkpoints (A,) that any of some links belongs to, and the chance at each of their levels
    that none of these links calls for its remedy (A, 5). among: (T,).
    """
    asked, at = np.unique(work.link_checkpoint[among], return_inverse=True)
    untriggered = np.ones((len(asked), LEVELS))
    np.multiply.at(untriggered, at, 1 - work.chance[among])
    return asked, untriggered


def _product_of_others(factors: Floats, start: Ints) -> Floats:
    """For each factor (C, P) the product of the others of its group. start: of the groups."""
    group = np.repeat(np.arange(len(start)), np.diff(start, append=factors.shape[1]))
    zero = factors == 0
    kept = np.where(zero, 1.0, factors)
    product = np.multiply.reduceat(kept, start, axis=1)[:, group] / kept
    zeros = np.add.reduceat(zero, start, axis=1, dtype=np.intp)[:, group]
    return np.where(zeros == zero, product, 0.0)
