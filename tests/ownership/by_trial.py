"""The best plan of a small season by trying all of them."""

from collections.abc import Iterator
from functools import cache
from itertools import product

from apps.ownership.solver.problem import PlannedJob, Season, WorkPlan, faults_of, merit

Span = tuple[int, int]


def best_by_trial(season: Season) -> WorkPlan:
    """Of all spans of all jobs, and all months of all enabling work, the plan of least merit."""
    stands = _all_that_may_stand(season)
    best: tuple[tuple[int, ...], WorkPlan] | None = None
    for spans in product(*(_spans(season, j) for j in range(len(season.jobs)))):
        jobs = _with_hours(season, spans)
        if jobs is None:
            continue
        for in_place in stands:
            plan = WorkPlan(jobs, in_place)
            found = merit(season, plan)
            if (best is None or found < best[0]) and not faults_of(season, plan):
                best = (found, plan)
    assert best is not None, "doing nothing is always possible"
    return best[1]


def _spans(season: Season, j: int) -> list[Span | None]:
    months = range(season.months)
    own = bool(season.jobs[j].hours)
    return [None, *((a, b) for a in months for b in months if a == b or (own and a < b))]


def _all_that_may_stand(season: Season) -> list[tuple[tuple[bool, ...], ...]]:
    nothing = (None,) * len(season.jobs)
    each = [list(product((False, True), repeat=season.months)) for _ in season.enabling]
    return [
        in_place
        for in_place in product(*each)
        if not faults_of(_unlimited(season), WorkPlan(nothing, in_place))
    ]


@cache
def _unlimited(season: Season) -> Season:
    return Season(season.hours, season.jobs, season.enabling)


def _with_hours(
    season: Season, spans: tuple[Span | None, ...]
) -> tuple[PlannedJob | None, ...] | None:
    """Hours in each month: those whose span ends first come first, which fits whenever any does."""
    left = {j: season.jobs[j].hours for j, span in enumerate(spans) if span}
    hours = {j: [0] * season.months for j in left}
    for month, free in enumerate(season.hours):
        for j in _in_order(spans, left, month):
            taken = min(free, left[j])
            hours[j][month] = taken
            left[j] -= taken
            free -= taken
    if any(left.values()):
        return None
    return tuple(
        span and PlannedJob(span[0], span[1], tuple(hours[j])) for j, span in enumerate(spans)
    )


def _in_order(spans: tuple[Span | None, ...], left: dict[int, int], month: int) -> Iterator[int]:
    here = [(span[1], j) for j, span in enumerate(spans) if span and span[0] <= month <= span[1]]
    return (j for _, j in sorted(here) if left[j])
