"""Plans of a season's work against taking one job after the other.

Run by name: python -m tests.bench.bench_season. 20 jobs, 12 months, 25 own hours a month, with and
without a limit on a month's money. Baseline: the jobs in the order of the work list, each in the
first month that has the hours, the money and the yard. Wanted: no plan is worse than the baseline,
and enabling work costs less in all; also shown is the processor time of a plan.
"""

import random
import sys
import time
from collections.abc import Iterator

from apps.ownership.solver.problem import (
    EnablingWork,
    PlannedJob,
    Season,
    WorkJob,
    WorkPlan,
    faults_of,
    merit,
)
from apps.ownership.solver.scheduling import plan_of

MONTHS, JOBS, SEEDS = 12, 20, range(5)
SAILING, LIFTING = frozenset({2, 3, 4, 5}), frozenset({0, 1, 6, 7, 11})
EVERY = frozenset(range(MONTHS))
ENABLING = (
    EnablingWork("lift-out", 60_000, LIFTING, SAILING),
    EnablingWork("mast-down", 140_000, EVERY, SAILING),
    EnablingWork("engine-out", 120_000, EVERY, SAILING),
)
NEEDS: tuple[frozenset[int], ...] = tuple(
    frozenset(places) for places in ((), (0,), (0,), (1,), (2,), (0, 2))
)


def main() -> int:
    worse, spent_on_enabling, most = 0, [0, 0], 0.0
    print("season  limit  left out  safety ends  enabling  of baseline  seconds  proven")
    for seed in SEEDS:
        for limit in (None, 400_000):
            season = season_made(seed, limit)
            started = time.process_time()
            plan = plan_of(season)
            seconds = time.process_time() - started
            found, before = merit(season, plan), merit(season, one_by_one(season))
            worse += found > before
            spent_on_enabling[0] += found[3]
            spent_on_enabling[1] += before[3]
            most = max(most, seconds)
            left, left_before = sum(found[:2]), sum(before[:2])
            print(
                f"{seed:6}  {'yes' if limit else 'no':>5}  {left:3} ({left_before})"
                f"  {found[2]:5} ({before[2]})  {found[3] / 100:8.0f}  {before[3] / 100:11.0f}"
                f"  {seconds:7.2f}  {plan.proven}",
                flush=True,
            )
    ratio = spent_on_enabling[0] / spent_on_enabling[1]
    print(f"enabling work costs {ratio:.2f} of the baseline's; {most:.1f} s of CPU at most")
    return int(worse > 0 or ratio >= 1)


def season_made(seed: int, most: int | None) -> Season:
    chance = random.Random(seed)
    jobs = [
        WorkJob(
            code=f"job-{n}",
            cost=chance.randint(5_000, 240_000),
            hours=chance.choice([0, 0, chance.randint(4, 60)]),
            safety=chance.random() < 0.3,
            urgent=chance.random() < 0.5,
            needs=chance.choice(NEEDS),
        )
        for n in range(JOBS)
    ]
    jobs.sort(key=lambda job: (not job.safety, not job.urgent))
    return Season((25,) * MONTHS, tuple(jobs), ENABLING, most)


def one_by_one(season: Season) -> WorkPlan:
    """Each job in the first months in which it can be done beside those before it."""
    plan = WorkPlan(
        jobs=(None,) * len(season.jobs),
        in_place=tuple((False,) * season.months for _ in season.enabling),
    )
    for j in range(len(season.jobs)):
        plan = next((with_it for with_it in _ways(season, plan, j)), plan)
    return plan


def _ways(season: Season, plan: WorkPlan, j: int) -> Iterator[WorkPlan]:
    for begins in range(season.months):
        placed = _from(season, plan, j, begins)
        if placed is None:
            return
        jobs = (*plan.jobs[:j], placed, *plan.jobs[j + 1 :])
        stands = tuple(
            tuple(
                of[p] or (m in season.jobs[j].needs and placed.begins <= p <= placed.ends)
                for p in range(season.months)
            )
            for m, of in enumerate(plan.in_place)
        )
        found = WorkPlan(jobs, stands)
        if not faults_of(season, found):
            yield found


def _from(season: Season, plan: WorkPlan, j: int, begins: int) -> PlannedJob | None:
    """The job from this month on, with the hours left in each; None if they are too few."""
    left, hours = season.jobs[j].hours, [0] * season.months
    for p in range(begins, season.months):
        free = season.hours[p] - sum(one.hours[p] for one in plan.jobs if one is not None)
        hours[p] = min(left, free)
        left -= hours[p]
        if not left:
            return PlannedJob(begins, p, tuple(hours))
    return None


if __name__ == "__main__":
    sys.exit(main())
