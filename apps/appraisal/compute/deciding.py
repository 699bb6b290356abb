"""The choice between the candidates of a list, for computing the value of looks.

A boat takes part if she is not struck off, can be priced and has a valuation: without a valuation,
more knowledge about a boat has no value in money. The effect of a look on costs alone needs no
valuation.
"""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from apps.appraisal.compute.computing import BoatCost, Computed, drawn
from apps.appraisal.compute.statements import Grader
from apps.reckoning.arrays import Floats
from apps.reckoning.costs import Draws
from apps.reckoning.grader_priors import (
    LEANS,
    SPREADS,
    WIDENING,
    GraderPriors,
    member_prior,
    surveyor_prior,
)
from apps.reckoning.graders import GraderDraws, GraderModel
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.reckoning.looking import Decision, Prospect, prospect
from apps.reckoning.reporting import with_slips
from apps.reckoning.utility import overrun_penalty
from apps.reckoning.visits import Visitor


@dataclass(frozen=True, slots=True, eq=False)
class Deciding:
    """decision: over the boats at the indices `boats` of the list, in that order."""

    decision: Decision
    boats: tuple[int, ...]


def taking_part(computed: Computed) -> tuple[int, ...]:
    valuation = computed.standing.group_valuation
    return tuple(
        i
        for i in computed.standing.live
        if computed.costs[i] is not None and not np.isnan(valuation[i])
    )


Prospects = Mapping[int, Prospect]  # by boat; without their worth


def prospects_of(computed: Computed, heartbeat: Callable[[], None] = lambda: None) -> Prospects:
    """The prospect of each boat that is not struck off and can be priced.

    This is the slow part, and it does not depend on valuations.
    """
    prospects = {}
    for i in computed.standing.live:
        if computed.costs[i] is not None:
            heartbeat()
            prospects[i] = prospect_of(computed, i)
    return prospects


def prospect_of(computed: Computed, i: int) -> Prospect:
    draws, cost = draws_of(computed, i)
    return prospect(
        *computed.belief.of_boat(i),
        draws,
        cost.costing.work,
        cost.expected,
        valuation=0.0,
        budget=computed.inputs.brief.budget,
    )


def deciding_of(computed: Computed, prospects: Prospects) -> Deciding | None:
    """None if no candidate takes part."""
    boats, brief = taking_part(computed), computed.inputs.brief
    if not boats:
        return None
    valuation = computed.standing.group_valuation
    valued = [replace(prospects[i], valuation=float(valuation[i])) for i in boats]
    penalty = overrun_penalty(brief.required_confidence)
    return Deciding(Decision(valued, budget=brief.budget, penalty=penalty), boats)


def deciding_alone(computed: Computed, prospects: Prospects) -> Deciding | None:
    """For each boat alone: whether to buy her, if she were worth exactly her expected cost.

    This uses costs alone and nobody's opinion; the alternative is to buy none. A look that moves
    the expected cost has half the size of that move as its value here.
    """
    if not prospects:
        return None
    budget = computed.inputs.brief.budget
    costs = Decision(list(prospects.values()), budget=budget, penalty=0.0).expected
    level = [
        replace(each, valuation=-float(cost))
        for each, cost in zip(prospects.values(), costs, strict=True)
    ]
    return Deciding(Decision(level, budget=budget, penalty=0.0), tuple(prospects))


def draws_of(computed: Computed, i: int) -> tuple[Draws, BoatCost]:
    """The draws behind the boat's costs, made again: all boats' draws at once would fill memory."""
    cost = computed.costs[i]
    if cost is None:
        raise ValueError(f"boat {i} has no cost")
    boat, belief = computed.inputs.boats[i], computed.belief
    return drawn(boat, *belief.of_boat(i), cost.costing), cost


# --- Who would look ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Looker:
    """A member and what they would report at each true level, (5, 5); None: anybody."""

    person_id: uuid.UUID | None
    report: Floats


def lookers_of(computed: Computed, sureness: str = "sure") -> tuple[Looker, ...]:
    """The members who have looked so far, with their fitted grading; if there are none, anybody."""
    widening = WIDENING[sureness]
    tables = computed.belief.graders.report_probabilities(widening)
    known = [
        Looker(grader.person_id, tables[r])
        for r, grader in enumerate(computed.arrays.graders)
        if is_member(grader)
    ]
    return tuple(known) or (Looker(None, expected_reports(member_prior(), widening)),)


def visitor_of(computed: Computed) -> Visitor:
    """A visitor who looks at many things: a member with the average lean and spread.

    Before anybody has looked nothing is known of people's lean, so only its average is used.
    """
    graders = computed.belief.graders
    members = [is_member(grader) for grader in computed.arrays.graders]
    if not isinstance(graders, GraderDraws) or not any(members):
        seen, guess = (
            np.mean([looker.report for looker in lookers_of(computed, sureness)], axis=0)[None]
            for sureness in ("sure", "guess")
        )
        return Visitor(seen, guess, np.ones(1))
    seen, guess = (
        graders.reports_by_draw(WIDENING[sureness])[:, members].mean(axis=1)
        for sureness in ("sure", "guess")
    )
    return Visitor(seen, guess, graders.share)


def is_member(grader: Grader) -> bool:
    return grader.kind == "member"


def surveyor_reports() -> Floats:
    """(5, 5): what a surveyor would report at each true level."""
    return expected_reports(surveyor_prior())


def expected_reports(priors: GraderPriors, widening: float = 1.0) -> Floats:
    """(5, 5), indexed true level, report: one grader of whom only the prior is known."""
    weights = GraderModel(priors, np.ones(1)).start().weights.reshape(len(LEANS), len(SPREADS))
    mean = np.arange(LEVELS)[:, None, None] + LEANS[:, None]
    meant = np.einsum("bs,tbsk->tk", weights, discretised_normal(mean, SPREADS * widening))
    return with_slips(meant, float(priors.slip[0]))
