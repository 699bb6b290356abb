"""Exact expected work and cost of a boat, without simulation and without second moments: as they
are, and given one checkpoint's level.

Given the care class (and the draw of the graders if the belief is mixed), levels are independent
between checkpoints, so the chance that no call of a set happens is a product over checkpoints.
`moments` adds the spread, which takes much longer.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.priors import CARE_CLASSES
from apps.reckoning.work import Purchase, Work, check_belief

IMPOSSIBLE = 1e-12  # added to chances to avoid a division by 0
NEVER = 1e-30  # in place of a chance of 0 by which a product is divided

Sparse: TypeAlias = "scipy.sparse.csr_array[np.float64]"


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
    care, level = components_of(care, level_given_care)
    events = _Events.of(work, level.shape[1])
    happen = (1 - events.none(events.none_here(_by_level(level)))) @ care
    remedy_cost = events.extents(happen) * work.remedies.mean
    needed, needed_now = events.enabling(happen)
    enabling_now = needed_now * work.enabling.mean
    enabling_later = (needed - needed_now) * work.enabling.mean
    upfront = purchase.expected_price * (1 + purchase.tax_rate) + purchase.fixed + purchase.reserve
    upfront += float(remedy_cost[work.now].sum() + enabling_now.sum())
    return Expected(
        price=purchase.expected_price,
        upfront=upfront,
        all_in=upfront + float(remedy_cost[~work.now].sum() + enabling_later.sum()),
        remedy_needed=events.called(happen),
        remedy_cost=remedy_cost,
        enabling_needed=needed,
        enabling_now=enabling_now,
        enabling_later=enabling_later,
    )


def expected_extents(care: Floats, level_given_care: Floats, work: Work) -> Floats:
    """Expected extent of each remedy (K,). Arguments and errors as for `expected_costs`."""
    check_belief(care, level_given_care, work)
    care, level = components_of(care, level_given_care)
    events = _Events.of(work, level.shape[1])
    happen = (1 - events.none(events.none_here(_by_level(level)))) @ care
    return events.extents(happen)


def work_by_level(care: Floats, level_given_care: Floats, work: Work) -> tuple[float, Floats]:
    """Expected cost of the work, and given the care class and one checkpoint's level, (J, 3, 5).

    Graders under whom that level is likelier weigh more: if a part turns out worse than they
    reported, other parts may be worse too. Arguments and errors as for `expected_costs`.
    """
    check_belief(care, level_given_care, work)
    by_class = care.reshape(-1, len(CARE_CLASSES))  # (K, 3)
    care, level = components_of(care, level_given_care)
    cells = level.shape[1:]
    events, by_level = _Events.of(work, level.shape[1]), _by_level(level)
    none_here = events.none_here(by_level)
    none = events.none(none_here)
    enabling = work.enabling.mean
    value = np.concatenate(
        [events.width * work.remedies.mean[events.remedy], enabling, np.zeros_like(enabling)]
    )[:, None]
    anyway = (value * (1 - none)).sum(axis=0)  # (C,)
    # An event that nothing else causes costs its value where the checkpoint causes it.
    caused = np.asarray(events.cause.T @ ((value * none)[events.event] / none_here))  # (J * 5, C)
    of_checkpoint = (by_level * caused).reshape(*cells, -1).sum(axis=1, keepdims=True)
    given = anyway + caused.reshape(*cells, -1) - of_checkpoint  # (J, 5, C)

    share = (by_class + IMPOSSIBLE) / (by_class + IMPOSSIBLE).sum(axis=0)
    weight = share[:, :, None, None] * (level.reshape(*by_class.shape, *cells) + IMPOSSIBLE)
    by_components = np.ascontiguousarray(given.reshape(-1, len(care)).T).reshape(weight.shape)
    table = (weight * by_components).sum(axis=0) / weight.sum(axis=0)  # (3, J, 5)
    return float(care @ anyway), np.asarray(table.swapaxes(0, 1))


def components_of(care: Floats, level_given_care: Floats) -> tuple[Floats, Floats]:
    """(C,), and (C, J, 5): the care classes, of each draw of the graders if there are several."""
    return care.ravel(), level_given_care.reshape(care.size, *level_given_care.shape[-2:])


def _by_level(level: Floats) -> Floats:
    """(C, J, 5) as (J * 5, C)."""
    return np.ascontiguousarray(level.reshape(len(level), -1).T)


@dataclass(frozen=True, slots=True, eq=False)
class _Events:
    """E events that cost money, and the P parts that checkpoints have in them.

    First R events: a remedy beyond an extent. Then M: an enabling work, and M: an enabling work
    that a remedy that cannot wait needs.
    remedy, floor, width: (R,) the remedy, the extent, and the gap to its next greater one.
    event: (P,) of each part, rising. cause: (P, J * 5), chance that one checkpoint causes the event
    at each of its levels, independently of the others.
    """

    remedy: Ints
    floor: Floats
    width: Floats
    remedies: int
    events: int
    event: Ints
    cause: Sparse

    @classmethod
    def of(cls, work: Work, checkpoints: int) -> "_Events":
        remedy, floor, width = _steps(work)
        of_remedy, link = np.nonzero(remedy[:, None] == work.link_remedy)
        beyond = np.where(work.extent[link] > floor[of_remedy, None], work.chance[link], 0.0)

        needs = work.needs & work.now[:, None]
        needs = np.concatenate([work.needs, needs], axis=1)[work.link_remedy]  # (T, 2 M)
        of_enabling, links = np.nonzero(needs.T)
        # The calls of one checkpoint are independent only once its level is known.
        parts, at = np.unique(
            of_enabling * checkpoints + work.link_checkpoint[links], return_inverse=True
        )
        untriggered = np.ones((len(parts), LEVELS))
        np.multiply.at(untriggered, at, 1 - work.chance[links])

        event = np.append(of_remedy, len(remedy) + parts // checkpoints)
        checkpoint = np.append(work.link_checkpoint[link], parts % checkpoints)
        cause = np.concatenate([beyond, 1 - untriggered])
        column = checkpoint[:, None] * LEVELS + np.arange(LEVELS)
        return cls(
            remedy=remedy,
            floor=floor,
            width=width,
            remedies=len(work.remedies),
            events=len(remedy) + needs.shape[1],
            event=event,
            cause=scipy.sparse.csr_array(
                (cause.ravel(), column.ravel(), np.arange(len(event) + 1) * LEVELS),
                shape=(len(event), checkpoints * LEVELS),
            ),
        )

    def none_here(self, by_level: Floats) -> Floats:
        """Chance that a part does not cause its event, (P, C). by_level: (J * 5, C)."""
        # A checkpoint that does not apply has no probability anywhere, and causes nothing.
        none: Floats = np.maximum(1 - np.asarray(self.cause @ by_level), NEVER)
        return none

    def none(self, none_here: Floats) -> Floats:
        """Chance that no part of an event causes it, (E, C)."""
        none = np.ones((self.events, none_here.shape[1]))
        caused, start = np.unique(self.event, return_index=True)
        none[caused] = np.multiply.reduceat(none_here, start, axis=0)
        return none

    def extents(self, happen: Floats) -> Floats:
        """E[extent] of each remedy, (K,): the integral of P(extent > x), a step function.

        happen: (E,) chance of each event.
        """
        beyond = happen[: len(self.remedy)]
        return self._by_remedy(self.width * beyond)

    def called(self, happen: Floats) -> Floats:
        """Chance of each remedy, (K,)."""
        return self._by_remedy(np.where(self.floor == 0, happen[: len(self.remedy)], 0.0))

    def enabling(self, happen: Floats) -> Floats:
        """Chance of each enabling work, and that a remedy that cannot wait needs it, (2, M)."""
        return happen[len(self.remedy) :].reshape(2, -1)

    def _by_remedy(self, values: Floats) -> Floats:
        """Sums of the values of the events of each remedy, (R,) to (K,)."""
        total = np.bincount(self.remedy, weights=values, minlength=self.remedies)
        return total.astype(float)  # without events numpy counts in integers


def _steps(work: Work) -> tuple[Ints, Floats, Floats]:
    """Remedy, extent, and the gap to the remedy's next greater extent, (R,) each.

    Every remedy has the extent 0; its greatest has no gap, and is left out.
    """
    count = len(work.remedies)
    remedy = np.append(np.arange(count), np.repeat(work.link_remedy, LEVELS))
    value = np.append(np.zeros(count), work.extent)
    order = np.lexsort((value, remedy))
    remedy, value = remedy[order], value[order]
    width = np.where(np.diff(remedy, append=-1) == 0, np.diff(value, append=0.0), 0.0)
    rises = width > 0  # of several links with the same extent only the last rises
    return remedy[rises], value[rises], width[rises]
