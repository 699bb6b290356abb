"""The facts that would change a candidate's place.

Each counterfactual is computed: the level of one checkpoint, the asking price or one remedy's quote
is changed, everything that depends on it is computed again, and the smallest change is sought that
moves the candidate past its neighbour in the order of E[U], or that takes the chance of staying
within the budget past the group's limit (model section 4). A candidate passes another if its lead
is more than the noise of drawing (`ordering`).

Buying none of the candidates is in the order too, at 0, with the index NONE.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.expected import Expected
from apps.reckoning.levels import LEVELS
from apps.reckoning.looking import Decision
from apps.reckoning.ordering import noise_of, places
from apps.reckoning.repricing import Moved, Moving, last_within
from apps.reckoning.simulation import Draws
from apps.reckoning.utility import Cost
from apps.reckoning.work import Purchase, Work, require

NONE = -1
# Quotes further than this factor from the estimated cost of the job are not worth showing;
# project's own estimate.
FURTHEST_QUOTE = 3.0
# How many remedies to search for a quote, dearest first: cheap ones change little.
DEAREST_REMEDIES = 12
# Levels less likely than this are not worth showing either; project's own estimate.
LEAST_CHANCE = 0.05

Effect = Literal["passes", "falls_behind", "within_budget", "over_budget"]
PASSES: Effect = "passes"
FALLS_BEHIND: Effect = "falls_behind"


@dataclass(frozen=True, slots=True)
class WhatWouldChange:
    """One fact that would move the candidate if it were different.

    fact, subject: the level of a checkpoint, the asking price (subject 0), or the quote for a
    remedy. now, then: likeliest level and the nearest one with the effect; asking price and the
    price needed; estimated cost of the remedy if it is needed, and the fixed quote needed.
    effect: what happens; `other` is the candidate it passes or falls behind (NONE is buying none),
    None for effects on the advice. chance: probability that the level is one with the effect and
    not the likeliest; None for prices.
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
    """A goal: a place beyond a rival, or the least chance of staying within the budget.

    up: whether the candidate must become cheaper or sounder to get there. value: E[U] of the
    rival with its standard error, or the chance. other: the rival.
    """

    effect: Effect
    up: bool
    value: float
    error: float = 0.0
    other: int | None = None

    @property
    def of_utility(self) -> bool:
        return self.other is not None

    def threshold(self, error: float) -> float:
        """The value that a figure with this standard error must pass."""
        if not self.of_utility:
            return self.value
        noise = float(noise_of(np.array(error), self.error))
        return self.value + noise if self.up else self.value - noise

    def reached(self, figure: Floats, error: float) -> Bools:
        """Strictly past a rival; at the least chance of staying within the budget."""
        threshold = self.threshold(error)
        if self.up:
            return figure > threshold if self.of_utility else figure >= threshold
        return figure < threshold


def what_would_change(
    decision: Decision,
    candidate: int,
    draws: Draws,
    work: Work,
    purchase: Purchase,
    expected: Expected,
    *,
    least_chance: float,
    with_price: Bools | None = None,
    of_place: bool = True,
    levels_each: int = 3,
    quotes_each: int = 2,
) -> tuple[WhatWouldChange, ...]:
    """The few facts that would change a candidate's place or advice if they were different.

    draws, work, purchase, expected: of this candidate. least_chance: the chance of staying within
    the budget below which the advice is to strike off (1 - required confidence). with_price: (K,)
    remedies whose cost is in proportion to the boat's price; none by default. of_place: whether to
    give what would change her place, beside the advice. levels_each, quotes_each: how many to give
    for each effect: levels by probability, highest first; quotes by distance from the estimate,
    nearest first. Raises ValueError naming the field.
    """
    require(0 <= candidate < len(decision.prospects), "candidate", "is not one of the candidates")
    require(0 <= least_chance <= 1, "least_chance", "is not in 0..1")
    cost = Cost(draws.upfront, draws.all_in, expected.upfront, expected.all_in)
    none = np.zeros(len(work.remedies), dtype=bool)
    known = _Known(
        cost, draws, work, purchase, expected, none if with_price is None else with_price
    )
    changes: list[WhatWouldChange] = []
    for goal in _goals(decision, candidate, least_chance):
        if goal.of_utility and not of_place:
            continue
        levels = sorted(
            _levels(decision, candidate, goal), key=lambda change: -(change.chance or 0)
        )
        changes += levels[:levels_each]
        changes += _asking(decision, candidate, known, goal)
        quotes = _quotes(decision, candidate, known, goal)
        changes += sorted(quotes, key=_distance)[:quotes_each]
    return tuple(changes)


def _goals(decision: Decision, candidate: int, least_chance: float) -> Iterator[_Goal]:
    """The nearest place up and down, and the advice on the budget."""
    own, error = float(decision.expected[candidate]), float(decision.error[candidate])
    for up, effect in ((True, PASSES), (False, FALLS_BEHIND)):
        rivals = [_rival(decision, candidate, up=up), NONE]
        goals = [
            _Goal(effect, up, *_figure(decision, rival), rival)
            for rival in rivals
            if rival is not None
        ]
        ahead = [goal for goal in goals if not goal.reached(np.array(own), error)]
        if ahead:
            yield min(ahead, key=lambda goal: abs(goal.threshold(error) - own))
    within = float((decision.prospects[candidate].cost.upfront <= decision.budget).mean())
    over = within < least_chance
    yield _Goal("within_budget" if over else "over_budget", over, least_chance)


def _figure(decision: Decision, rival: int) -> tuple[float, float]:
    """E[U] and its standard error."""
    if rival == NONE:
        return 0.0, 0.0
    return float(decision.expected[rival]), float(decision.error[rival])


def _rival(decision: Decision, candidate: int, *, up: bool) -> int | None:
    """The rival to pass for another place: the best of those level, else of the next place."""
    place = places(decision.expected, decision.error)
    own = place[candidate]
    others = np.arange(len(place)) != candidate
    beyond = others & (place < own if up else place > own)
    if (others & (place == own)).any():
        among = others & (place == own)
    elif beyond.any():
        among = others & (place == (place[beyond].max() if up else place[beyond].min()))
    else:
        return None
    return int(np.where(among, decision.expected, -np.inf).argmax())


def _levels(decision: Decision, candidate: int, goal: _Goal) -> Iterator[WhatWouldChange]:
    """For each checkpoint the nearest level that reaches the goal."""
    chance = decision.chance[candidate]  # (J, 3, 5)
    level = chance.sum(axis=1)
    if goal.of_utility:
        table, now = decision.by_level[candidate], float(decision.expected[candidate])
    else:
        each = decision.prospects[candidate]
        table, now = each.table.within, float((each.cost.upfront <= decision.budget).mean())
    joint = (chance * table).sum(axis=1)  # (J, 5)
    figure = np.divide(joint, level, out=np.full_like(joint, now), where=level > 0)
    # Against the table's own mean, so that high or low draws have no effect by themselves.
    figure += now - joint.sum(axis=1, keepdims=True)
    likeliest = level.argmax(axis=1)
    reached = goal.reached(figure, float(decision.error[candidate])) & (level > 0)
    reached[np.arange(len(level)), likeliest] = False  # it is the believed level already
    for checkpoint in np.flatnonzero(reached.any(axis=1)):
        likely = float(level[checkpoint, reached[checkpoint]].sum())
        if likely >= LEAST_CHANCE:
            now_at = int(likeliest[checkpoint])
            distance = np.abs(np.arange(LEVELS) - now_at)
            nearest = int(np.where(reached[checkpoint], distance, LEVELS).argmin())
            yield WhatWouldChange(
                "level", int(checkpoint), now_at, nearest, goal.effect, goal.other, likely
            )


def _asking(
    decision: Decision, candidate: int, known: "_Known", goal: _Goal
) -> Iterator[WhatWouldChange]:
    """The asking price that reaches the goal, if one does that a buyer could ask a seller for."""
    purchase, draws, work, expected = known.purchase, known.draws, known.work, known.expected
    if purchase.asking <= 0:
        return
    moves = known.with_price & ~work.remedies.quoted

    def by_price(among: Bools) -> Moving:
        """Work whose cost grows with her price."""
        cost = np.einsum("kd,kd->d", draws.remedy_price[among], draws.extent[among], dtype=float)
        return Moving.in_proportion(cost, float(expected.remedy_cost[among].sum()), purchase)

    paid = 1 + purchase.tax_rate
    bought = Moving.in_proportion(
        draws.price * paid + purchase.reserve, expected.price * paid + purchase.reserve, purchase
    )
    moved = Moved(known.cost, bought.with_(by_price(moves & work.now)), by_price(moves & ~work.now))
    then = _solve(decision, candidate, moved, goal)
    if then is not None and purchase.may_be_cut_by(purchase.asking - then):
        yield WhatWouldChange("asking", 0, purchase.asking, then, goal.effect, goal.other)


def _quotes(
    decision: Decision, candidate: int, known: "_Known", goal: _Goal
) -> Iterator[WhatWouldChange]:
    """For each of the dearest remedies the fixed quote that reaches the goal, if any does."""
    draws, expected = known.draws, known.expected
    for remedy in np.argsort(-expected.remedy_cost, kind="stable")[:DEAREST_REMEDIES]:
        mean, chance = float(expected.remedy_cost[remedy]), float(expected.remedy_needed[remedy])
        if mean <= 0:
            return
        now = mean / chance
        quoted = Moving(
            now=(draws.remedy_price[remedy] * draws.extent[remedy]).astype(float),
            mean_now=mean,
            rate=(draws.extent[remedy] > 0).astype(float),
            mean_rate=chance,
        )
        nothing = Moving.nothing(len(draws))
        urgent = bool(known.work.now[remedy])
        moved = Moved(known.cost, quoted if urgent else nothing, nothing if urgent else quoted)
        reach = (now / FURTHEST_QUOTE, now * FURTHEST_QUOTE)
        then = _solve(decision, candidate, moved, goal, reach)
        if then is not None:
            yield WhatWouldChange("quote", int(remedy), now, then, goal.effect, goal.other)


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """The candidate's draws and inputs; with_price: see `what_would_change`."""

    cost: Cost
    draws: Draws
    work: Work
    purchase: Purchase
    expected: Expected
    with_price: Bools


def _solve(
    decision: Decision,
    candidate: int,
    moved: Moved,
    goal: _Goal,
    reach: tuple[float, float] | None = None,
) -> float | None:
    """The last price x before the goal is reached: any further step reaches it.

    None if no price of 0 or more within range does. Both the expected utility and the chance of
    staying within the budget only fall as x rises.
    """
    if not goal.of_utility:
        room = decision.budget - moved.upfront_at(0.0)
        return last_within(room, moved.upfront.rate, goal.value, reach)
    valuation = decision.prospects[candidate].valuation

    def short(x: float) -> float:
        regretted = moved.regretted_at(x, decision.budget, decision.penalty)
        return valuation - regretted.mean - goal.threshold(regretted.error)

    low = reach[0] if reach else 0.0
    spare = short(low)
    if spare < 0:
        return None
    # E[U] falls by at least the mean rate per unit of x; the noise may grow a little at the same
    # time.
    high = reach[1] if reach else low + 2 * (spare + 1) / moved.mean_rate
    if short(high) > 0:
        return None
    return float(scipy.optimize.brentq(short, low, high, xtol=0.01))


def _distance(change: WhatWouldChange) -> float:
    """How far a price would have to move, as a ratio either way."""
    return abs(float(np.log(change.then / change.now)))
