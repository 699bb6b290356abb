"""Why a candidate stands where it does: where its cost comes from, and what would move it.

A counterfactual is worked out, not read off a threshold: the level of one checkpoint, the asking
price or one remedy's quote is set otherwise, everything that hangs on it is reckoned again, and the
smallest change is sought that moves the candidate past its neighbour in the order of E[U], or that
takes the strike-off advice "over the pot" away or brings it on (model section 4).

Buying none of the candidates stands in the order too, at 0, and has the index NONE.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from scipy.optimize import brentq

from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.expected import Expected
from apps.reckoning.levels import LEVELS
from apps.reckoning.looking import Decision
from apps.reckoning.rollup import CAUSES, Rollup
from apps.reckoning.simulation import Draws
from apps.reckoning.utility import Cost
from apps.reckoning.work import Purchase, Work, require

NONE = -1
# Quotes further than this factor from what the job is reckoned at are not worth telling anybody;
# project's own estimate.
FURTHEST_QUOTE = 3.0
# How many remedies to look through for a quote, dearest first: those that cost little move little.
DEAREST_REMEDIES = 12
# Levels less likely than this are not worth telling either; project's own estimate.
LEAST_CHANCE = 0.05

Effect = Literal["passes", "falls_behind", "within_pot", "over_pot"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the way from the asking price to the all-in cost, in money.

    of: what it adds; `later` is work that can wait. area, cause: of work, an area's index and one
    of CAUSES. total: so far.
    """

    of: Literal["asking", "expected_price", "tax", "purchase_costs", "work", "reserve", "later"]
    amount: float
    area: int | None = None
    cause: str | None = None
    total: float = 0.0


def waterfall(rollup: Rollup, purchase: Purchase) -> tuple[Step, ...]:
    """From the asking price to the mean all-in cost. Steps of 0 are left out.

    First what is to be paid before she sails: the purchase, the work that cannot wait by area, each
    area by what was seen, is disputed and was not seen, and the reserve. Then the work that can.
    """
    parts = rollup.parts
    added = [
        Step("expected_price", parts.price - purchase.asking),
        Step("tax", parts.tax),
        Step("purchase_costs", parts.purchase_costs),
        *_work_steps("work", rollup.now_by_area_and_cause),
        Step("reserve", parts.reserve),
        *_work_steps("later", rollup.later_by_area_and_cause),
    ]
    steps = [Step("asking", purchase.asking, total=purchase.asking)]
    for step in added:
        if step.amount:
            steps.append(replace(step, total=steps[-1].total + step.amount))
    return tuple(steps)


def _work_steps(of: Literal["work", "later"], by_area_and_cause: Floats) -> Iterator[Step]:
    for area, by_cause in enumerate(by_area_and_cause):
        for cause, amount in zip(CAUSES, by_cause.tolist(), strict=True):
            yield Step(of, amount, area, cause)


@dataclass(frozen=True, slots=True)
class Change:
    """One fact that would move the candidate if it were otherwise.

    fact, subject: the level of a checkpoint, the asking price (subject 0), or the quote for a
    remedy. now, then: likeliest level and the nearest that has the effect; asking price and the
    price needed; what the remedy is reckoned at where it is needed, and the fixed quote needed.
    effect: what happens; `other` the candidate it passes or falls behind (NONE is buying none),
    None for effects on the advice. chance: that the level is, unlike the likeliest, one that has
    the effect; None for prices.
    """

    fact: Literal["level", "asking", "quote"]
    subject: int
    now: float
    then: float
    effect: Effect
    other: int | None
    chance: float | None = None


@dataclass(frozen=True, slots=True)
class _Goal:
    """Something to reach: E[U] of a neighbour, or the least chance of staying within the pot.

    up: whether the candidate has to become cheaper or sounder to get there.
    """

    effect: Effect
    up: bool
    value: float
    other: int | None

    @property
    def of_utility(self) -> bool:
        return self.other is not None

    def reached(self, figure: Floats) -> Bools:
        """Strictly past a neighbour; at the least chance of staying within the pot."""
        if self.up:
            return figure > self.value if self.of_utility else figure >= self.value
        return figure < self.value


def what_would_change(
    decision: Decision,
    candidate: int,
    draws: Draws,
    work: Work,
    purchase: Purchase,
    expected: Expected,
    *,
    least_chance: float,
    levels_each: int = 3,
    quotes_each: int = 2,
) -> tuple[Change, ...]:
    """The few facts that would change a candidate's place or advice if they were otherwise.

    draws, work, purchase, expected: of this candidate. least_chance: of staying within the pot,
    below which the advice is to strike off (1 less the required confidence). levels_each,
    quotes_each: most to tell for each effect: levels likeliest to be there first, quotes nearest to
    the estimate first. Raises ValueError naming the field.
    """
    require(0 <= candidate < len(decision.prospects), "candidate", "is not one of the candidates")
    require(0 <= least_chance <= 1, "least_chance", "is not in 0..1")
    cost = Cost(draws.upfront, draws.all_in, expected.upfront, expected.all_in)
    changes: list[Change] = []
    for goal in _goals(decision, candidate, least_chance):
        levels = sorted(
            _levels(decision, candidate, goal), key=lambda change: -(change.chance or 0)
        )
        changes += levels[:levels_each]
        changes += _asking(decision, candidate, cost, draws, purchase, goal)
        quotes = _quotes(decision, candidate, cost, draws, work, expected, goal)
        changes += sorted(quotes, key=_distance)[:quotes_each]
    return tuple(changes)


def _goals(decision: Decision, candidate: int, least_chance: float) -> Iterator[_Goal]:
    own = float(decision.expected[candidate])
    rivals = {index: float(value) for index, value in enumerate(decision.expected)}
    del rivals[candidate]
    rivals[NONE] = 0.0
    above = [index for index, value in rivals.items() if value > own]
    below = [index for index, value in rivals.items() if value < own]
    if above:
        nearest = min(above, key=lambda index: rivals[index])
        yield _Goal("passes", True, rivals[nearest], nearest)
    if below:
        nearest = max(below, key=lambda index: rivals[index])
        yield _Goal("falls_behind", False, rivals[nearest], nearest)
    within = float((decision.prospects[candidate].cost.upfront <= decision.pot).mean())
    over = within < least_chance
    yield _Goal("within_pot" if over else "over_pot", over, least_chance, None)


def _levels(decision: Decision, candidate: int, goal: _Goal) -> Iterator[Change]:
    """For each checkpoint the nearest level that reaches the goal."""
    chance = decision.chance[candidate]  # (J, 3, 5)
    level = chance.sum(axis=1)
    if goal.of_utility:
        table, now = decision.by_level[candidate], float(decision.expected[candidate])
    else:
        each = decision.prospects[candidate]
        table, now = each.table.within, float((each.cost.upfront <= decision.pot).mean())
    joint = (chance * table).sum(axis=1)  # (J, 5)
    figure = np.divide(joint, level, out=np.full_like(joint, now), where=level > 0)
    # Against the table's own mean, so that draws which fell high or low move nothing by themselves.
    figure += now - joint.sum(axis=1, keepdims=True)
    likeliest = level.argmax(axis=1)
    reached = goal.reached(figure) & (level > 0)
    reached[np.arange(len(level)), likeliest] = False  # that one is what is believed already
    for checkpoint in np.flatnonzero(reached.any(axis=1)):
        likely = float(level[checkpoint, reached[checkpoint]].sum())
        if likely >= LEAST_CHANCE:
            now_at = int(likeliest[checkpoint])
            distance = np.abs(np.arange(LEVELS) - now_at)
            nearest = int(np.where(reached[checkpoint], distance, LEVELS).argmin())
            yield Change("level", int(checkpoint), now_at, nearest, goal.effect, goal.other, likely)


def _asking(
    decision: Decision, candidate: int, cost: Cost, draws: Draws, purchase: Purchase, goal: _Goal
) -> Iterator[Change]:
    """The asking price that reaches the goal, if any does that a seller could be asked for."""
    if purchase.asking <= 0:
        return
    paid = 1 + purchase.tax_rate
    share = draws.price / purchase.asking  # of the asking price that is paid
    kept = purchase.reserve_rate * purchase.expected_share
    moved = _Moved(
        cost,
        now=purchase.asking * (share * paid + kept),
        mean_now=purchase.asking * (purchase.expected_share * paid + kept),
        rate=share * paid + kept,
        mean_rate=purchase.expected_share * paid + kept,
    )
    then = _solve(decision, candidate, moved, goal)
    if then is not None and purchase.may_be_cut_by(purchase.asking - then):
        yield Change("asking", 0, purchase.asking, then, goal.effect, goal.other)


def _quotes(
    decision: Decision,
    candidate: int,
    cost: Cost,
    draws: Draws,
    work: Work,
    expected: Expected,
    goal: _Goal,
) -> Iterator[Change]:
    """For each of the dearest remedies the fixed quote that reaches the goal, if any does."""
    for remedy in np.argsort(-expected.remedy_cost, kind="stable")[:DEAREST_REMEDIES]:
        mean, chance = float(expected.remedy_cost[remedy]), float(expected.remedy_needed[remedy])
        if mean <= 0:
            return
        now = mean / chance
        moved = _Moved(
            cost,
            now=(draws.remedy_price[remedy] * draws.extent[remedy]).astype(float),
            mean_now=mean,
            rate=(draws.extent[remedy] > 0).astype(float),
            mean_rate=chance,
            upfront=bool(work.now[remedy]),
        )
        reach = (now / FURTHEST_QUOTE, now * FURTHEST_QUOTE)
        then = _solve(decision, candidate, moved, goal, reach)
        if then is not None:
            yield Change("quote", int(remedy), now, then, goal.effect, goal.other)


class _Moved(NamedTuple):
    """A candidate's cost as one price moves it.

    now, mean_now: (D,) what the price comes to as it is, and its mean. rate, mean_rate: the same of
    one unit of it. upfront: whether it is paid before she sails.
    """

    cost: Cost
    now: Floats
    mean_now: float
    rate: Floats
    mean_rate: float
    upfront: bool = True

    def at(self, x: float) -> Cost:
        more, mean = self.rate * x - self.now, self.mean_rate * x - self.mean_now
        cost = self.cost
        return Cost(
            upfront=cost.upfront + more if self.upfront else cost.upfront,
            all_in=cost.all_in + more,
            mean_upfront=cost.mean_upfront + mean if self.upfront else cost.mean_upfront,
            mean_all_in=cost.mean_all_in + mean,
        )


def _solve(
    decision: Decision,
    candidate: int,
    moved: _Moved,
    goal: _Goal,
    reach: tuple[float, float] | None = None,
) -> float | None:
    """The price x that just reaches the goal.

    None where no price of 0 or more (or none within reach) does. Both the expected utility and the
    chance of staying within the pot only fall as x rises.
    """
    if not goal.of_utility:
        room = decision.pot - moved.at(0.0).upfront
        rate = moved.rate if moved.upfront else np.zeros_like(moved.rate)
        return _last_within(room, rate, goal.value, reach)
    worth = decision.prospects[candidate].worth

    def short(x: float) -> float:
        return worth - moved.at(x).regretted(decision.pot, decision.penalty).mean - goal.value

    low = reach[0] if reach else 0.0
    # E[U] falls by at least the mean rate per unit of x, so this is far enough to lose any lead.
    spare = short(low)
    if spare < 0:
        return None
    high = reach[1] if reach else low + (spare + 1) / moved.mean_rate
    if short(high) > 0:
        return None
    return float(brentq(short, low, high, xtol=0.5))


def _last_within(
    room: Floats, rate: Floats, chance: float, reach: tuple[float, float] | None
) -> float | None:
    """The highest x for which rate * x <= room holds with at least this chance."""
    moved = rate > 0
    limit = np.where(moved, np.divide(room, rate, out=np.zeros_like(room), where=moved), np.inf)
    limit[~moved & (room < 0)] = -np.inf
    ordered = np.sort(limit)[::-1]
    count = int(np.ceil(chance * len(ordered) - 1e-9))
    last = float(ordered[count - 1]) if count else np.inf
    low, high = reach or (0.0, np.inf)
    return last if low <= last <= high and np.isfinite(last) else None


def _distance(change: Change) -> float:
    """How far a price would have to move, as a ratio either way."""
    return abs(float(np.log(change.then / change.now)))
