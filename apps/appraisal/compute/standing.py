"""Where each candidate stands: valuations, musts, orders, and reasons to strike off.

A candidate without a valuation cannot be ranked by worth minus cost. It is ranked after those with
one, by its chance of staying within the budget and then by its expected cost, and the board says
so. A candidate that cannot be priced comes last.
"""

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from apps.appraisal.compute.arrays import ListArrays
from apps.appraisal.compute.inputs import BoatInputs, Inputs, WantFact
from apps.boats.models import Want
from apps.reckoning.advice import (
    AdviceInputs,
    chance_best,
    chance_better,
    strike_off_advice,
    to_be_judged,
)
from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.levels import mean_level
from apps.reckoning.musts import Must, within_musts
from apps.reckoning.ordering import places
from apps.reckoning.ranking import GroupStanding, group_standing, member_orders
from apps.reckoning.reasons import Advice, ToBeJudgedReason
from apps.reckoning.rollup import CostRollup
from apps.reckoning.simulation import Singles
from apps.reckoning.utility import Regretted, weighted_median
from apps.reckoning.voting import ranks_from_tiers

Subject = Want.Subject


@dataclass(frozen=True, slots=True, eq=False)
class CostTable:
    """The figures of all boats' costs that the orders need, (I,) each; nan for an unpriced boat.

    mean: of the all-in cost. within_budget: chance that the cost up front is within the budget.
    regretted: E[all-in + lambda * overrun of the budget], so that E[U] = valuation - regretted for
    any valuation. error: its standard error from drawing. drawn: (I, D) its draws, in outcomes
    common to all boats.
    """

    mean: Floats
    within_budget: Floats
    regretted: Floats
    error: Floats
    drawn: Singles

    @classmethod
    def of(
        cls,
        rollups: Sequence[CostRollup | None],
        regretted: Sequence[Regretted | None],
        drawn: Sequence[Singles | None],
    ) -> "CostTable":
        def column(read: Callable[[CostRollup], float]) -> Floats:
            return np.array([np.nan if r is None else read(r) for r in rollups], dtype=np.float64)

        draws = max((len(row) for row in drawn if row is not None), default=1)
        unpriced = np.full(draws, np.nan, dtype=np.float32)
        return cls(
            mean=column(lambda r: r.all_in.mean),
            within_budget=column(lambda r: r.within_budget),
            regretted=np.array([np.nan if one is None else one.mean for one in regretted]),
            error=np.array([np.nan if one is None else one.error for one in regretted]),
            drawn=np.stack([unpriced if row is None else row for row in drawn])
            if drawn
            else np.empty((0, draws), dtype=np.float32),
        )

    def chance_above(self, valuation: Floats) -> Floats:
        """(I,): chance that she costs more than a valuation, overrun included; nan if either is not
        known.
        """
        above = (self.drawn > valuation[:, None]).mean(axis=1)
        return np.where(np.isnan(valuation) | ~self.priced, np.nan, above)

    @property
    def within_budget_error(self) -> Floats:
        """(I,): the standard error of the chance from drawing."""
        error: Floats = np.sqrt(self.within_budget * (1 - self.within_budget) / self.drawn.shape[1])
        return error

    @property
    def priced(self) -> Bools:
        return ~np.isnan(self.mean)


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """The list's order and its inputs; B buyers, I candidates, L of them not struck off.

    valuation: (B, I) nan where not given. group_valuation, group_utility: (I,) nan where not known.
    utility: (B, I). live: indices of candidates not struck off. order: the same, best first.
    place: (I,) 1 is best, level candidates share a place; nan for candidates struck off.
    voted: those of `live` that some buyer orders. ranks: (B, V) each buyer's order of them, nan for
    none. votes: the combined order, None if nobody orders two or some orders are hidden.
    advice, to_be_judged: for every candidate.
    wants_met: (B, I) of a buyer's wants whose answer is known, the share of weight that is met; nan
    if none is known.
    """

    valuation: Floats
    group_valuation: Floats
    utility: Floats
    group_utility: Floats
    live: tuple[int, ...]
    order: tuple[int, ...]
    place: Floats
    voted: tuple[int, ...]
    ranks: Floats
    votes: GroupStanding | None
    advice: tuple[tuple[Advice, ...], ...]
    to_be_judged: tuple[tuple[ToBeJudgedReason, ...], ...]
    wants_met: Floats


def standing_of(inputs: Inputs, arrays: ListArrays, level: Floats, costs: CostTable) -> Standing:
    """level: (I, J, 5), the belief."""
    valuation = valuations_of(inputs)
    shares = np.array([buyer.share for buyer in inputs.buyers])
    group_valuation = np.array([_median(column, shares) for column in valuation.T])
    utility = valuation - costs.regretted
    musts = musts_of(inputs, arrays, level)
    live = tuple(i for i, boat in enumerate(inputs.boats) if not boat.struck_off)
    group_utility = group_valuation - costs.regretted
    voted, ranks = _ranks(inputs, utility, costs.error, musts, live)
    place = _places(live, group_utility, costs)
    evidence = _evidence(inputs, arrays, level, costs, valuation, group_valuation, musts, live)
    return Standing(
        valuation=valuation,
        group_valuation=group_valuation,
        utility=utility,
        group_utility=group_utility,
        live=live,
        order=_order(live, place, group_utility, costs),
        place=place,
        voted=voted,
        ranks=ranks,
        votes=None if hidden_orders(inputs) else _votes(inputs, ranks),
        advice=strike_off_advice(evidence),
        to_be_judged=to_be_judged(evidence),
        wants_met=wants_met(inputs, arrays, level),
    )


# --- Valuations and orders -----------------------------------------------------------------------


def valuations_of(inputs: Inputs) -> Floats:
    """(B, I), nan where a buyer gave none."""
    return np.array(
        [
            [inputs.valuations.get((buyer.person_id, boat.id), np.nan) for boat in inputs.boats]
            for buyer in inputs.buyers
        ],
        dtype=np.float64,
    ).reshape(len(inputs.buyers), len(inputs.boats))


def _median(valuation: Floats, shares: Floats) -> float:
    """Weighted median of the given valuations; nan if no buyer with a share gave one."""
    given = ~np.isnan(valuation) & (shares > 0)
    return weighted_median(valuation[given], shares[given]) if given.any() else float("nan")


def _places(live: Sequence[int], utility: Floats, costs: CostTable) -> Floats:
    """(I,): the place of each candidate; nan if struck off.

    Candidates with a valuation come first, by utility. Others that can be priced follow, by the
    chance of staying within the budget and, where those are level, by the expected cost, which is
    exact. Those that cannot be priced share the last place.
    """
    among = np.isin(np.arange(len(utility)), live)
    valued, priced = among & costs.priced & ~np.isnan(utility), among & costs.priced
    place = places(np.where(valued, utility, np.nan), costs.error)
    chance = np.where(priced & ~valued, costs.within_budget, np.nan)
    by_chance = places(chance, costs.within_budget_error, unit=0.0)
    for shared in np.unique(by_chance[~np.isnan(by_chance)]):
        level = by_chance == shared
        by_cost = places(np.where(level, -costs.mean, np.nan), np.zeros_like(utility))
        place[level] = valued.sum() + shared + by_cost[level] - 1
    place[among & ~priced] = priced.sum() + 1
    return place


def _order(
    live: Sequence[int], place: Floats, utility: Floats, costs: CostTable
) -> tuple[int, ...]:
    """Best first. Candidates that share a place are ordered by the draws, then as added."""
    return tuple(sorted(live, key=lambda i: (place[i], -np.nan_to_num(utility[i]), costs.mean[i])))


def _ranks(
    inputs: Inputs, utility: Floats, error: Floats, musts: Sequence[Must], live: Sequence[int]
) -> tuple[tuple[int, ...], Floats]:
    """The candidates that some buyer orders, and their ranks. Hidden ballots are not known."""
    if not inputs.buyers:
        return (), np.empty((0, 0))
    within = within_musts(musts, len(inputs.buyers), len(inputs.boats))
    ranks = member_orders(utility, error, within, ballots_of(inputs))
    ranks[[buyer.person_id in inputs.hidden.ballots for buyer in inputs.buyers]] = np.nan
    # A candidate that nobody orders is not compared: it must not look as if all others beat it.
    voted = tuple(i for i in live if not np.isnan(ranks[:, i]).all())
    return voted, ranks[:, list(voted)]


def _votes(inputs: Inputs, ranks: Floats) -> GroupStanding | None:
    if not ((~np.isnan(ranks)).sum(axis=1) >= 2).any():
        return None
    shares = [buyer.share for buyer in inputs.buyers]
    by_share = inputs.brief.vote_weights == "share"
    return group_standing(ranks, shares if by_share else None)


def hidden_orders(inputs: Inputs) -> frozenset[uuid.UUID]:
    """The buyers whose order of the live candidates is not known in full."""
    live = frozenset(boat.id for boat in inputs.boats if not boat.struck_off)
    return inputs.hidden.orders_of(live, inputs.ballots)


def ballots_of(inputs: Inputs) -> Floats:
    """(B, I) ranks, nan if the buyer has no ballot or it does not name the candidate."""
    place = {boat.id: i for i, boat in enumerate(inputs.boats)}
    rows = [
        ranks_from_tiers(
            [
                [place[candidate] for candidate in tier if candidate in place]
                for tier in inputs.ballots.get(buyer.person_id, ())
            ],
            len(inputs.boats),
        )
        for buyer in inputs.buyers
    ]
    return np.array(rows).reshape(len(inputs.buyers), len(inputs.boats))


# --- Wants ---------------------------------------------------------------------------------------


def musts_of(inputs: Inputs, arrays: ListArrays, level: Floats) -> list[Must]:
    member = {buyer.person_id: b for b, buyer in enumerate(inputs.buyers)}
    return [
        as_must(want, member[want.person_id], inputs.boats, arrays, level)
        for want in inputs.wants
        if want.must
    ]


def wants_met(inputs: Inputs, arrays: ListArrays, level: Floats) -> Floats:
    """(B, I): of a buyer's weighted wants whose answer is known, the share that a candidate
    meets.
    """
    met = np.zeros((len(inputs.buyers), len(inputs.boats)))
    known = np.zeros_like(met)
    member = {buyer.person_id: b for b, buyer in enumerate(inputs.buyers)}
    for want in inputs.wants:
        if want.must:
            continue
        b = member[want.person_id]
        as_if = as_must(want, b, inputs.boats, arrays, level)
        says = ~np.isnan(as_if.value)
        known[b] += want.weight * says
        met[b] += want.weight * (says & ~as_if.broken)
    return np.divide(met, known, out=np.full_like(met, np.nan), where=known > 0)


def as_must(
    want: WantFact, member: int, boats: Sequence[BoatInputs], arrays: ListArrays, level: Floats
) -> Must:
    """The want as least <= value <= most on every candidate; yes is 1 and no is 0."""
    name = str(want.id)
    if want.subject == Subject.FREE:
        judged = [_yes(want.judged.get(boat.id)) for boat in boats]
        return Must(name, member, np.array(judged, dtype=np.float64), least=1.0)
    if want.subject == Subject.CHECKPOINT:
        values = _expected_levels(want.key, arrays, level)
    elif want.test == "one_of":
        wanted = want.value if isinstance(want.value, list) else [want.value]
        found = [boat.value(want.key) for boat in boats]
        yes = [_yes(None if value is None else value in wanted) for value in found]
        return Must(name, member, np.array(yes, dtype=np.float64), least=1.0)
    else:
        values = np.array([_number(boat.value(want.key)) for boat in boats], dtype=np.float64)
    limit = float(want.value)
    if want.test == "at_least":
        return Must(name, member, values, least=limit)
    return Must(name, member, values, most=limit)


def _yes(met: bool | None) -> float:
    return float("nan") if met is None else float(met)


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else float("nan")


def _expected_levels(code: str, arrays: ListArrays, level: Floats) -> Floats:
    """(I,): the expected level, nan where the checkpoint does not apply or nobody looked."""
    for j, checkpoint in enumerate(arrays.checkpoints):
        if checkpoint.code == code:
            return np.where(arrays.looked[:, j], mean_level(level[:, j]), np.nan)
    return np.full(len(arrays.boats), np.nan)


# --- Advice --------------------------------------------------------------------------------------


def _evidence(
    inputs: Inputs,
    arrays: ListArrays,
    level: Floats,
    costs: CostTable,
    valuation: Floats,
    group_valuation: Floats,
    musts: Sequence[Must],
    live: Sequence[int],
) -> AdviceInputs:
    utility = valuation - costs.regretted
    # A struck-off candidate beats nobody: it can no longer be chosen.
    in_play = np.zeros(len(inputs.boats), dtype=np.bool_)
    in_play[list(live)] = True
    # If all opinions of one buyer are hidden, no candidate is known to be better for every buyer.
    heard = not any(
        buyer.person_id in inputs.hidden.valuations and np.isnan(utility[b]).all()
        for b, buyer in enumerate(inputs.buyers)
    )
    return AdviceInputs(
        expected_utility=np.where(in_play & heard, utility, np.nan),
        chance_better=chance_better(valuation, costs.drawn),
        chance_costs_more=costs.chance_above(group_valuation),
        chance_best=chance_best(group_valuation, costs.drawn, in_play),
        chance_within_budget=costs.within_budget,
        required_confidence=inputs.brief.required_confidence,
        musts=musts,
        level=level,
        looked=arrays.reported,
        walk_away_level=arrays.walk_away_level,
        doubt_level=arrays.doubt_level,
        doubt_seen_by=arrays.doubt_seen_by,
        grave=arrays.guarded & ~arrays.receipt_clears,
    )
