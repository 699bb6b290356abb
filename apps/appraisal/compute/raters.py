"""How each person tends to grade, and how far people agree: to help them, not to rank them.

A lean is no fault: nobody is better for grading softer or harder. The others need to know it to
correct for it.
"""

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.statements import Grader
from apps.appraisal.figures import number
from apps.appraisal.stored.looks import (
    Agreement,
    AreaTendency,
    Coefficient,
    Rater,
    Raters,
    Tendency,
    Who,
)
from apps.reckoning.agreement import (
    alpha_by_area,
    krippendorff_alpha,
    pair_agreements,
    ratings_table,
)
from apps.reckoning.arrays import Floats
from apps.reckoning.bootstrap import Estimate, Resampling
from apps.reckoning.condition import report_gaps
from apps.reckoning.levels import LEVELS

# With fewer findings on an area, nothing is shown for it.
LEAST_ON_AREA = 5
RESAMPLING = Resampling(replicates=500)


def raters_of(computed: Computed) -> Raters:
    arrays = computed.arrays
    people = [r for r, grader in enumerate(arrays.graders) if grader.person_id is not None]
    gaps = report_gaps(computed.belief, arrays.reports)
    return {
        "raters": [rater(computed, r, gaps) for r in people],
        "agreement": agreement(computed, people),
    }


def rater(computed: Computed, r: int, gaps: Floats) -> Rater:
    graders, reports = computed.belief.graders, computed.arrays.reports
    mine = reports.grader == r
    return {
        **who(computed.arrays.graders[r]),
        "findings": int(mine.sum()),
        "lean": tendency(graders.lean_mean[r], *graders.lean_interval()[r]),
        "spread": tendency(graders.spread_mean[r], *graders.spread_interval()[r]),
        "by_area": by_area(computed, r, gaps),
    }


def tendency(mean: float, low: float, high: float) -> Tendency:
    return {
        "mean": round(float(mean), 2),
        "low": round(float(low), 2),
        "high": round(float(high), 2),
    }


def who(grader: Grader) -> Who:
    return {
        "kind": "professional" if grader.kind == "professional" else "member",
        "person_id": str(grader.person_id),
        "profession": grader.name,
    }


def by_area(computed: Computed, r: int, gaps: Floats) -> list[AreaTendency]:
    """How much harder (softer, below 0) this person reported than the belief, by area.

    The person's lean, which applies everywhere, is subtracted: the gap is what remains on this
    area.
    """
    reports, areas = computed.arrays.reports, computed.jobs.area
    rows: list[AreaTendency] = []
    for a, code in enumerate(computed.jobs.areas):
        here = (reports.grader == r) & (areas[reports.checkpoint] == a)
        if here.sum() < LEAST_ON_AREA:
            continue
        gap = gaps[here]
        rows.append(
            {
                "area": code,
                "title": computed.inputs.snapshot.catalogue.areas[code].title,
                "findings": int(here.sum()),
                "gap": round(float(gap.mean()), 2),
                "standard_error": number(float(gap.std(ddof=1) / np.sqrt(len(gap)))),
            }
        )
    return rows


# --- Agreement -----------------------------------------------------------------------------------


def agreement(computed: Computed, people: list[int]) -> Agreement:
    """Krippendorff's alpha over the list and by area, and every pair, on the levels as reported."""
    arrays, jobs = computed.arrays, computed.jobs
    boats, checkpoints = arrays.fleet.applies.shape
    reports = arrays.reports
    table = ratings_table(
        unit=reports.boat * checkpoints + reports.checkpoint,
        rater=reports.grader,
        level=reports.level,
        units=boats * checkpoints,
        raters=max(len(arrays.graders), 1),
    )[people]
    looked = ~np.isnan(table)
    rated = np.flatnonzero(looked.any(axis=0))
    table = table[:, rated]
    area = jobs.area[rated % checkpoints] if checkpoints else rated
    titles = computed.inputs.snapshot.catalogue.areas
    return {
        "list": alpha(krippendorff_alpha(table, resampling=RESAMPLING)),
        "by_area": [
            {"area": jobs.areas[a], "title": titles[jobs.areas[a]].title, **alpha(found)}
            for a, found in alpha_by_area(table, area, resampling=RESAMPLING).items()
        ],
        "pairs": [
            {
                "first": who(arrays.graders[people[pair.first]]),
                "second": who(arrays.graders[people[pair.second]]),
                "common": pair.kappa.units,
                "kappa": alpha(pair.kappa),
                "same": pair.same and number(pair.same, 3),
                "difference": pair.difference and number(pair.difference),
            }
            for pair in pair_agreements(table, np.arange(LEVELS), resampling=RESAMPLING)
            if pair.kappa.units
        ],
    }


def alpha(found: Estimate) -> Coefficient:
    return {
        "value": found.value if found.value is None else round(found.value, 3),
        "low": found.low if found.low is None else round(found.low, 3),
        "high": found.high if found.high is None else round(found.high, 3),
        "units": found.units,
        "reason": found.reason,
    }
