"""A season of work: the problem, a schedule that answers it, and the order between schedules.

Months are numbered from 0. Sums are whole numbers of the smallest unit of one currency.
"""

from collections.abc import Sequence
from dataclasses import dataclass

Months = frozenset[int]


@dataclass(frozen=True)
class WorkJob:
    """One job. cost: due in the month in which it begins. hours: of the group's own; 0: a yard does
    it within one month. safety: before anything else. urgent: before what can wait. needs: places
    of the enabling work that has to be in place while it is done.
    """

    code: str
    cost: int
    hours: int = 0
    safety: bool = False
    urgent: bool = False
    needs: frozenset[int] = frozenset()


@dataclass(frozen=True)
class EnablingWork:
    """Work that jobs need first. Its cost is due each time it begins.

    may_change: months in which it may begin or end (a lift-out and the relaunch). closed: months in
    which it may not be in place (she sails then). in_place: whether it is at the start. needs:
    other enabling work. ahead: for how many months it has to be in place before a job that needs it
    (a hull dries).
    """

    code: str
    cost: int
    may_change: Months
    closed: Months = frozenset()
    in_place: bool = False
    needs: frozenset[int] = frozenset()
    ahead: int = 0


@dataclass(frozen=True)
class Season:
    """hours: the group's own in each month. most: that may be spent in a month, None: any sum."""

    hours: tuple[int, ...]
    jobs: tuple[WorkJob, ...]
    enabling: tuple[EnablingWork, ...] = ()
    most: int | None = None

    @property
    def months(self) -> int:
        return len(self.hours)


@dataclass(frozen=True)
class PlannedJob:
    """From its first month to its last, with the own hours of each of the season's months."""

    begins: int
    ends: int
    hours: tuple[int, ...]


@dataclass(frozen=True)
class WorkPlan:
    """jobs: one for each job, None for one that is left out. in_place: for each enabling work,
    whether it is in place in each month. proven: whether no other plan is better (`merit`).
    """

    jobs: tuple[PlannedJob | None, ...]
    in_place: tuple[tuple[bool, ...], ...]
    proven: bool = True


def begun(season: Season, m: int, in_place: Sequence[bool]) -> list[int]:
    """The months in which an enabling work begins."""
    before = (season.enabling[m].in_place, *in_place)
    return [p for p in range(season.months) if in_place[p] and not before[p]]


def spent(season: Season, plan: WorkPlan) -> list[int]:
    """What is due in each month."""
    due = [0] * season.months
    for job, planned in zip(season.jobs, plan.jobs, strict=True):
        if planned is not None:
            due[planned.begins] += job.cost
    for m, in_place in enumerate(plan.in_place):
        for month in begun(season, m, in_place):
            due[month] += season.enabling[m].cost
    return due


def merit(season: Season, plan: WorkPlan) -> tuple[int, ...]:
    """What a plan is judged by, the first figure first; less is better.

    Safety jobs left out; other jobs left out; the sum of the months in which safety jobs end; the
    cost of enabling work; the sum of the months in which the others end, urgent ones twice; and how
    many months enabling work is in place.
    """
    left, ends = [0, 0], [0, 0]
    for job, planned in zip(season.jobs, plan.jobs, strict=True):
        other = 0 if job.safety else 1
        if planned is None:
            left[other] += 1
        else:
            ends[other] += planned.ends * weight_of(job)
    enabling = sum(
        season.enabling[m].cost * len(begun(season, m, in_place))
        for m, in_place in enumerate(plan.in_place)
    )
    return (*left, ends[0], enabling, ends[1], sum(map(sum, plan.in_place)))


def weight_of(job: WorkJob) -> int:
    return 2 if job.urgent and not job.safety else 1


def faults_of(season: Season, plan: WorkPlan) -> list[str]:
    """What a plan breaks; empty for one that can be carried out."""
    return [
        *_job_faults(season, plan),
        *_enabling_faults(season, plan),
        *(
            f"month {p}: too many hours"
            for p, most in enumerate(season.hours)
            if sum(one.hours[p] for one in plan.jobs if one is not None) > most
        ),
        *(
            f"month {p}: too much is spent"
            for p, due in enumerate(spent(season, plan))
            if season.most is not None and due > season.most
        ),
    ]


def _job_faults(season: Season, plan: WorkPlan) -> list[str]:
    faults = []
    for job, planned in zip(season.jobs, plan.jobs, strict=True):
        if planned is None:
            continue
        span = range(planned.begins, planned.ends + 1)
        if not (0 <= planned.begins <= planned.ends < season.months):
            faults.append(f"{job.code}: outside the season")
        if sum(planned.hours) != job.hours or any(
            h and p not in span for p, h in enumerate(planned.hours)
        ):
            faults.append(f"{job.code}: its hours")
        if not job.hours and len(span) > 1:
            faults.append(f"{job.code}: a yard takes one month")
        for m in job.needs:
            first = planned.begins - season.enabling[m].ahead
            if not all(_stands(season, plan, m, p) for p in range(first, planned.ends + 1)):
                faults.append(f"{job.code}: lacks {season.enabling[m].code}")
    return faults


def _stands(season: Season, plan: WorkPlan, m: int, month: int) -> bool:
    return plan.in_place[m][month] if month >= 0 else season.enabling[m].in_place


def _enabling_faults(season: Season, plan: WorkPlan) -> list[str]:
    faults = []
    for m, (work, in_place) in enumerate(zip(season.enabling, plan.in_place, strict=True)):
        for month, stands in enumerate(in_place):
            if not stands:
                continue
            if month in work.closed:
                faults.append(f"{work.code}: in place in month {month}")
            if not all(plan.in_place[other][month] for other in work.needs):
                faults.append(f"{work.code}: lacks what it needs in month {month}")
            if month not in work.may_change:
                if month in begun(season, m, in_place):
                    faults.append(f"{work.code}: begins in month {month}")
                if month + 1 < season.months and not in_place[month + 1]:
                    faults.append(f"{work.code}: ends in month {month}")
    return faults
