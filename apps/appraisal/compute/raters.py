"""How each person tends to grade, and how far people agree: to help them, not to rank them.

A lean is no fault: nobody is better for grading softer or harder. The others need to know it to
correct for it.
"""

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.statements import Grader
from apps.appraisal.figures import Json, number
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


def raters_of(computed: Computed) -> Json:
    arrays = computed.arrays
    people = [r for r, grader in enumerate(arrays.graders) if grader.person_id is not None]
    gaps = report_gaps(computed.belief, arrays.reports)
    return {
        "raters": [rater(computed, r, gaps) for r in people],
        "agreement": agreement(computed, people),
    }


def rater(computed: Computed, r: int, gaps: Floats) -> Json:
    graders, reports = computed.belief.graders, computed.arrays.reports
    mine = reports.grader == r
    low, high = graders.lean_interval()[r]
    return {
        **who(computed.arrays.graders[r]),
        "findings": int(mine.sum()),
        "lean": {
            "mean": number(graders.lean_mean[r]),
            "low": number(low),
            "high": number(high),
        },
        "spread": {
            "mean": number(graders.spread_mean[r]),
            "low": number(graders.spread_interval()[r][0]),
            "high": number(graders.spread_interval()[r][1]),
        },
        "by_area": by_area(computed, r, gaps),
    }


def who(grader: Grader) -> Json:
    return {
        "kind": grader.kind,
        "person_id": str(grader.person_id),
        "profession": grader.name,
    }


def by_area(computed: Computed, r: int, gaps: Floats) -> list[Json]:
    """How much harder (softer, below 0) this person reported than the belief, by area.

    The person's lean, which applies everywhere, is subtracted: the gap is what remains on this
    area.
    """
    reports, areas = computed.arrays.reports, computed.jobs.area
    rows = []
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
                "gap": number(float(gap.mean())),
                "standard_error": number(float(gap.std(ddof=1) / np.sqrt(len(gap)))),
            }
        )
    return rows


# --- Agreement -----------------------------------------------------------------------------------


def agreement(computed: Computed, people: list[int]) -> Json:
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


def alpha(found: Estimate) -> Json:
    return {
        "value": found.value if found.value is None else round(found.value, 3),
        "low": found.low if found.low is None else round(found.low, 3),
        "high": found.high if found.high is None else round(found.high, 3),
        "units": found.units,
        "reason": found.reason,
    }
