"""What the seller of one candidate could be asked to see to, or to take off the price.

Work that was found with some likelihood, and work that a professional says is needed.
"""

from dataclasses import dataclass

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.offering import AtPrice
from apps.reckoning.simulation import Draws
from apps.reckoning.work import Work, require

# Work found with at least this chance is worth asking the seller about; project's own estimate.
LIKELY_NEEDED = 0.5


@dataclass(frozen=True, slots=True)
class Ask:
    """One remedy that the seller could be asked to see to, or to take off the price.

    remedy: index. amount: its expected cost if it is needed, with the enabling work that nothing
    else needs. needed: chance. safety: whether a structural, safety or flooding checkpoint calls
    for it. now: whether it cannot wait. if_put_right, if_taken_off: chance of staying within the
    budget if the seller has it done, or takes the amount off the price.
    """

    remedy: int
    amount: float
    needed: float
    safety: bool
    now: bool
    if_put_right: float
    if_taken_off: float


@dataclass(frozen=True, slots=True)
class Asks:
    """items: safety first, then what cannot wait, then dearest first. within: the chance as it is.

    amount, if_put_right, if_taken_off: of all items together.
    """

    items: tuple[Ask, ...]
    within: float
    amount: float
    if_put_right: float
    if_taken_off: float


def asks_of(
    at_price: AtPrice,
    price: float,
    draws: Draws,
    work: Work,
    budget: float,
    *,
    seen: Bools,
    guarded: Bools,
    stated: Bools,
    count: int = 12,
) -> Asks:
    """What the seller could be asked about.

    price: paid if nothing is taken off. seen: (J,) checkpoints at which somebody looked; what
    nobody saw is no argument. guarded: (J,) structural, safety and flooding checkpoints. stated:
    (K,) remedies that a professional says are needed, seen or not. count: how many others to give
    at most. Raises ValueError for another length.
    """
    _check(draws, work, seen, guarded, stated)
    upfront = at_price.rest.upfront + at_price.rate * price
    called = (draws.extent > 0).mean(axis=1)
    by_seen = np.where(stated, called, _called_by(draws, work, seen))
    by_guarded = _called_by(draws, work, seen & guarded)
    by_guarded[stated] = _called_by(draws, work, guarded)[stated]
    items = []
    for remedy in np.flatnonzero((called >= LIKELY_NEEDED) & (by_seen >= LIKELY_NEEDED)):
        now, later = _spared(draws, work, np.array([remedy]))
        amount = float((now + later).mean() / called[remedy])
        items.append(
            Ask(
                remedy=int(remedy),
                amount=amount,
                needed=float(called[remedy]),
                safety=bool(by_guarded[remedy] >= LIKELY_NEEDED),
                now=bool(work.now[remedy]),
                if_put_right=_within(upfront - now, budget),
                if_taken_off=_within(upfront - at_price.rate * amount, budget),
            )
        )
    items.sort(key=lambda ask: (not ask.safety, not ask.now, -ask.amount))
    kept = tuple(ask for place, ask in enumerate(items) if place < count or stated[ask.remedy])
    now, later = _spared(draws, work, np.array([ask.remedy for ask in kept], dtype=np.intp))
    total = float((now + later).mean())
    return Asks(
        items=kept,
        within=_within(upfront, budget),
        amount=total,
        if_put_right=_within(upfront - now, budget),
        if_taken_off=_within(upfront - at_price.rate * total, budget),
    )


def _check(draws: Draws, work: Work, seen: Bools, guarded: Bools, stated: Bools) -> None:
    checkpoints, remedies = len(draws.level), len(work.remedies)
    for name, each, length in (
        ("seen", seen, checkpoints),
        ("guarded", guarded, checkpoints),
        ("stated", stated, remedies),
    ):
        require(each.shape == (length,), name, f"has shape {each.shape}")


def _within(upfront: Floats, budget: float) -> float:
    return float((upfront <= budget).mean())


def _called_by(draws: Draws, work: Work, checkpoints: Bools) -> Floats:
    """Chance that any of these checkpoints calls for each remedy, (K,)."""
    among = checkpoints[work.link_checkpoint]
    called = np.zeros((len(work.remedies), len(draws)), dtype=bool)
    np.logical_or.at(called, work.link_remedy[among], draws.asked[among] > 0)
    return np.asarray(called.mean(axis=1))


def _spared(draws: Draws, work: Work, remedies: Ints) -> tuple[Floats, Floats]:
    """Cost of some remedies with the enabling work that no other needs, now and later, (D,) each.

    Both together are what the cost falls by if these remedies are not needed.
    """
    left = draws.extent.copy()
    left[remedies] = 0
    now, later = np.zeros((2, len(draws)))
    for k in remedies:
        cost = draws.remedy_price[k] * draws.extent[k]
        if work.now[k]:
            now += cost
        else:
            later += cost
    for m, needs in enumerate(work.needs.T):
        if not needs[remedies].any():
            continue
        needed_now = left[needs & work.now].any(axis=0)
        needed = needed_now | left[needs & ~work.now].any(axis=0)
        before, after = draws.needed_now[m], draws.needed[m] & ~draws.needed_now[m]
        now += draws.enabling_price[m] * (before.astype(float) - needed_now)
        later += draws.enabling_price[m] * (after.astype(float) - (needed & ~needed_now))
    return now, later
