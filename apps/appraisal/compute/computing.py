"""From the inputs of one list to all its results: pure, deterministic, nothing stored.

Fit the belief, price and simulate every boat, and order them with reasons. `words` turns results
into sentences; `results` selects what is stored.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from apps.appraisal.compute.arrays import ListArrays, list_arrays
from apps.appraisal.compute.costing import BoatCosting, Jobs, cost_of, jobs_of, missing_for_cost
from apps.appraisal.compute.inputs import BoatInputs, Inputs
from apps.appraisal.compute.standing import CostTable, Standing, standing_of
from apps.appraisal.opinions import Opinions
from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.belief import Belief
from apps.reckoning.condition import ConditionScore, condition_score, differing_reports
from apps.reckoning.costs import (
    CAUSES,
    DRAWS,
    CostRollup,
    Draws,
    Expected,
    expected_costs,
    rollup,
    simulate,
)
from apps.reckoning.mixture import fit_mixed
from apps.reckoning.simulation import Singles
from apps.reckoning.utility import Cost, Regretted, overrun_penalty

# Raise it whenever the same inputs give other results: stored results are then recomputed.
METHOD = "10"

SEEN, DISPUTED, NOT_SEEN = range(len(CAUSES))


@dataclass(frozen=True, slots=True, eq=False)
class BoatCost:
    """One priced boat. regretted: E[all-in + lambda * overrun of budget]; drawn: (D,) its draws."""

    costing: BoatCosting
    expected: Expected
    rollup: CostRollup
    regretted: Regretted
    drawn: Singles


@dataclass(frozen=True, slots=True, eq=False)
class Believed:
    """The belief from all findings on one list.

    differing: (N,) reports a level or more from the belief after correcting for lean.
    cause: (I, J) index into CAUSES.
    """

    arrays: ListArrays
    belief: Belief
    condition: ConditionScore
    differing: Bools
    cause: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Computed:
    """The standing of one list, I boats. `costs` has None for a boat that cannot be priced.

    missing: (I,) the facts that each boat lacks to be priced.
    """

    inputs: Inputs
    believed: Believed
    jobs: Jobs
    missing: tuple[tuple[str, ...], ...]
    costs: tuple[BoatCost | None, ...]
    cost_table: CostTable
    standing: Standing

    @property
    def arrays(self) -> ListArrays:
        return self.believed.arrays

    @property
    def belief(self) -> Belief:
        return self.believed.belief


def believe(inputs: Inputs) -> Believed:
    """The belief from the findings; it uses no money."""
    arrays = list_arrays(inputs, inputs.pooled)
    belief = belief_of(arrays)
    looks = arrays.reports.where(arrays.looks)
    differing = differing_reports(belief, arrays.reports)
    # What a seller says makes nobody's look disputed.
    differing[arrays.looks] = differing_reports(belief, looks)
    return Believed(
        arrays=arrays,
        belief=belief,
        condition=condition_score(belief, arrays.fleet, looks, arrays.weights),
        differing=differing,
        cause=causes(arrays, differing),
    )


def belief_of(arrays: ListArrays) -> Belief:
    fitted = arrays.apart
    belief = fit_mixed(
        fitted.fleet,
        fitted.priors,
        fitted.reports,
        arrays.grader_priors,
        care_prior=arrays.care_prior,
    )
    return belief.of_checkpoints(len(arrays.checkpoints))


def compute(
    inputs: Inputs,
    heartbeat: Callable[[], None] = lambda: None,
    *,
    believed: Believed | None = None,
) -> Computed:
    """The standing of the list. `heartbeat` is called between steps of long work.

    believed: the belief from the same findings, to reuse if only money has changed since.
    """
    believed = believed or believe(inputs)
    belief, cause = believed.belief, believed.cause
    jobs = jobs_of(inputs.snapshot.catalogue)
    missing = tuple(missing_for_cost(boat, inputs) for boat in inputs.boats)
    costs = []
    for i, boat in enumerate(inputs.boats):
        heartbeat()
        costs.append(None if missing[i] else boat_cost(i, boat, inputs, belief, jobs, cause[i]))
    table = CostTable.of(
        [None if cost is None else cost.rollup for cost in costs],
        [None if cost is None else cost.regretted for cost in costs],
        [None if cost is None else cost.drawn for cost in costs],
    )
    return Computed(
        inputs=inputs,
        believed=believed,
        jobs=jobs,
        missing=missing,
        costs=tuple(costs),
        cost_table=table,
        standing=standing_of(inputs, believed.arrays, belief.level, table),
    )


def with_only(computed: Computed, seen: Opinions) -> Computed:
    """The standing from these opinions only. Belief and costs use no opinions, so they are
    reused.
    """
    inputs = computed.inputs.with_only(seen)
    standing = standing_of(inputs, computed.arrays, computed.belief.level, computed.cost_table)
    return replace(computed, inputs=inputs, standing=standing)


def causes(arrays: ListArrays, differing: Bools) -> Ints:
    """(I, J): whether the level of a checkpoint was seen, is disputed, or nobody saw it."""
    cause = np.where(arrays.looked, SEEN, NOT_SEEN)
    disputed = differing & arrays.looks
    cause[arrays.reports.boat[disputed], arrays.reports.checkpoint[disputed]] = DISPUTED
    return cause


def boat_cost(
    i: int, boat: BoatInputs, inputs: Inputs, belief: Belief, jobs: Jobs, cause: Ints
) -> BoatCost:
    care, level = belief.of_boat(i)
    costing = cost_of(boat, inputs, jobs, care, level)
    draws = drawn(boat, care, level, costing)
    expected = expected_costs(care, level, costing.work, costing.purchase)
    figures = rollup(
        draws,
        costing.work,
        costing.purchase,
        expected,
        inputs.brief.budget,
        area=jobs.area,
        cause=cause,
    )
    cost = Cost(
        draws.by_outcome(draws.upfront),
        draws.by_outcome(draws.all_in),
        expected.upfront,
        expected.all_in,
    )
    budget, penalty = inputs.brief.budget, overrun_penalty(inputs.brief.required_confidence)
    return BoatCost(
        costing, expected, figures, cost.regretted(budget, penalty), cost.drawn(budget, penalty)
    )


def drawn(boat: BoatInputs, care: Floats, level_given_care: Floats, costing: BoatCosting) -> Draws:
    """Outcomes of one boat. Each boat has her own seed: the same facts give the same figures."""
    return simulate(
        care,
        level_given_care,
        costing.work,
        costing.purchase,
        seed=boat.id.int % 2**63,
        draws=DRAWS,
    )
