"""The list's order and its reasons, in the form in which they are stored.

For readers who may see only some of the opinions, results from those alone are stored as well.
"""

from itertools import combinations

import numpy as np

from apps.appraisal.board import strike_off
from apps.appraisal.board.strike_off import checkpoint_named
from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.consensus import condition
from apps.appraisal.compute.standing import hidden_orders
from apps.appraisal.figures import (
    as_amount,
    as_amount_or_none,
    as_level,
    chance,
    estimate,
)
from apps.appraisal.pooling.pooled import outcomes_used_response, priors_serialized
from apps.appraisal.stored.parts import StoredToBeJudged
from apps.appraisal.stored.standing import (
    Apart,
    HiddenVotes,
    Ranked,
    StoredMember,
    StoredRow,
    StoredStanding,
    Votes,
)
from apps.reckoning.voting import Order


def standing_serialized(computed: Computed) -> StoredStanding:
    brief, boats = computed.inputs.brief, computed.inputs.boats
    return {
        "rests_on": computed.inputs.opinions.stored,
        "currency": brief.currency,
        "budget": as_amount(brief.budget, brief.currency),
        "required_confidence": brief.required_confidence,
        "rows": [row(computed, i) for i in computed.standing.order],
        "struck_off": [row(computed, i) for i, boat in enumerate(boats) if boat.struck_off],
        "members": members(computed),
        "votes": votes(computed),
        "priors": priors_serialized(computed.inputs.pooled),
        "club_outcomes": outcomes_used_response(computed.inputs.experience),
        "converged": computed.belief.converged,
    }


def row(computed: Computed, i: int) -> StoredRow:
    currency, cost = computed.inputs.brief.currency, computed.costs[i]
    standing, boat = computed.standing, computed.inputs.boats[i]
    hidden = boat.id in computed.inputs.hidden.boats
    figures = cost.rollup if cost else None
    return {
        "candidate_id": str(boat.id),
        "place": place_of(computed, i),
        "upfront": estimate(figures.upfront, currency) if figures else None,
        "later": estimate(figures.later, currency) if figures else None,
        "all_in": estimate(figures.all_in, currency) if figures else None,
        "within_budget": chance(figures.within_budget) if figures else None,
        "condition": condition(computed, i),
        "missing": list(computed.missing[i]),
        "valuation_missing": bool(np.isnan(standing.group_valuation[i])) and not hidden,
        "valuation": as_amount_or_none(standing.group_valuation[i], currency),
        "surplus": as_amount_or_none(
            standing.group_valuation[i] - computed.cost_table.mean[i], currency
        ),
        "utility": as_amount_or_none(standing.group_utility[i], currency),
        "opinions_hidden": hidden,
        "open_doubts": int((computed.arrays.doubt_level[i] >= 0).sum()),
        "advice": [strike_off.stored(computed, one) for one in standing.advice[i]],
        "before_buying": before_buying(computed, i),
    }


def place_of(computed: Computed, i: int) -> int | None:
    """The boat's place; None if she is struck off."""
    place = computed.standing.place[i]
    return None if np.isnan(place) else int(place)


def before_buying(computed: Computed, i: int) -> list[StoredToBeJudged]:
    """Doubts for a professional to judge before anybody buys her, and how many people differ."""
    arrays = computed.arrays
    boat = arrays.boats[i].id
    raised = {doubt.checkpoint: doubt for doubt in arrays.doubts if doubt.candidate_id == boat}
    return [
        {
            "code": "to_be_judged",
            **checkpoint_named(computed, one.checkpoint, one.level),
            "level": as_level(one.level),
            "probability": None if one.probability is None else chance(one.probability),
            "seen_by": one.seen_by,
            "seen_otherwise": raised[arrays.checkpoints[one.checkpoint].code].seen_otherwise,
            "judged": raised[arrays.checkpoints[one.checkpoint].code].judged,
        }
        for one in computed.standing.to_be_judged[i]
    ]


# --- The people ----------------------------------------------------------------------------------


def members(computed: Computed) -> list[StoredMember]:
    """Each buyer's own order: from the ballot, or from own valuations and musts.

    hidden: the order depends on opinions that are left out here.
    """
    boats, standing, inputs = computed.inputs.boats, computed.standing, computed.inputs
    ballots, hidden = {*inputs.ballots, *inputs.hidden.ballots}, hidden_orders(inputs)
    rows: list[StoredMember] = []
    for b, buyer in enumerate(inputs.buyers):
        view = standing.votes.members[b] if standing.votes else None
        rows.append(
            {
                "person_id": str(buyer.person_id),
                "share": round(buyer.share, 6),
                "source": "ballot" if buyer.person_id in ballots else "valuations",
                "places": [
                    {"candidate_id": str(boats[i].id), "place": int(rank)}
                    for i, rank in zip(standing.voted, standing.ranks[b], strict=True)
                    if not np.isnan(rank)
                ],
                "hidden": buyer.person_id in hidden,
                "distance": view.distance if view else None,
                "furthest": [
                    {
                        "candidate_id": str(boats[standing.voted[f]].id),
                        "places": round(float(view.places[f]), 1),
                    }
                    for f in view.furthest
                ]
                if view
                else [],
            }
        )
    return rows


def votes(computed: Computed) -> Votes | HiddenVotes | None:
    """The group's order by its members' orders, by three methods; None if nobody has an order."""
    standing = computed.standing
    if hidden_orders(computed.inputs):
        return {"hidden": True, "weights": computed.inputs.brief.vote_weights}
    if standing.votes is None:
        return None
    ids = [str(computed.inputs.boats[i].id) for i in standing.voted]
    methods, concordance = standing.votes.methods, standing.votes.concordance
    contested = {(min(ids[a], ids[b]), max(ids[a], ids[b])) for a, b in methods.contested}
    return {
        "hidden": False,
        "weights": computed.inputs.brief.vote_weights,
        "schulze": placed(ids, methods.schulze),
        "borda": placed(ids, methods.borda),
        "kemeny": placed(ids, methods.kemeny) if methods.kemeny else None,
        "preferred_to_all": (
            None if methods.condorcet_winner is None else ids[methods.condorcet_winner]
        ),
        "methods_agree": methods.same_order,
        "contested": sorted(contested),
        "concordance": concordance.value and round(concordance.value, 3),
        "differs_from_board": differs_from_board(computed),
    }


def placed(ids: list[str], order: Order) -> list[Ranked]:
    ranked = sorted(zip(order.rank.tolist(), ids, strict=True))
    return [{"candidate_id": candidate, "place": place} for place, candidate in ranked]


def differs_from_board(computed: Computed) -> list[Apart]:
    """Pairs that the board and the members' votes order differently."""
    standing, boats = computed.standing, computed.inputs.boats
    if standing.votes is None:
        return []
    rank = dict(zip(standing.voted, standing.votes.methods.schulze.rank.tolist(), strict=True))
    return [
        {"board": str(boats[first].id), "votes": str(boats[second].id)}
        for first, second in combinations(standing.order, 2)
        if first in rank
        and second in rank
        and standing.place[first] < standing.place[second]
        and rank[second] < rank[first]
    ]
