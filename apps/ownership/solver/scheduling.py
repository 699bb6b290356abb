"""The best plan for a season's work, by constraint programming (OR-tools CP-SAT).

The figures of `problem.merit` are made as small as possible one after the other: each is held at
its least while the next is sought.
"""

from ortools.sat.python import cp_model

from apps.ownership.solver.problem import PlannedJob, Season, WorkPlan, begun, merit, weight_of

SEED = 7
EFFORT = 0.3  # of each step, in the solver's own deterministic seconds

Var = cp_model.IntVar
Linear = cp_model.LinearExpr | int


def plan_of(season: Season, effort: float = EFFORT) -> WorkPlan:
    """The best plan found; the same one every time, on every machine."""
    nothing = WorkPlan(
        jobs=(None,) * len(season.jobs),
        in_place=tuple((False,) * season.months for _ in season.enabling),
    )
    if not season.jobs or not season.months:
        return nothing
    return _Model(season).best(nothing, effort)


class _Model:
    def __init__(self, season: Season) -> None:
        self.season = season
        self.model = cp_model.CpModel()
        self.range = range(season.months)
        self.stands = [self._bools(f"{work.code} stands") for work in season.enabling]
        self.starts = [self._bools(f"{work.code} starts") for work in season.enabling]
        self.under_way = [self._bools(f"{job.code} under way") for job in season.jobs]
        self.first = [self._bools(f"{job.code} first") for job in season.jobs]
        self.last = [self._bools(f"{job.code} last") for job in season.jobs]
        self.planned = [self.model.new_bool_var(f"{job.code} planned") for job in season.jobs]
        self.hours: list[list[Var]] = []
        for m in range(len(season.enabling)):
            self._enabling(m)
        for j in range(len(season.jobs)):
            self._job(j)
        self._within_hours_and_money()

    def _bools(self, name: str) -> list[Var]:
        return [self.model.new_bool_var(f"{name} {p}") for p in self.range]

    # --- Building ----------------------------------------------------------------------------

    def _enabling(self, m: int) -> None:
        work, model = self.season.enabling[m], self.model
        stands, starts = self.stands[m], self.starts[m]
        for p in self.range:
            before: Linear = stands[p - 1] if p else int(work.in_place)
            model.add(starts[p] >= stands[p] - before)
            model.add(starts[p] <= stands[p])
            model.add(starts[p] <= 1 - before)
            if p in work.closed:
                model.add(stands[p] == 0)
            if p not in work.may_change:
                model.add(starts[p] == 0)
                if p + 1 < self.season.months:
                    model.add_implication(stands[p], stands[p + 1])
            for other in work.needs:
                model.add_implication(stands[p], self.stands[other][p])

    def _job(self, j: int) -> None:
        """Its months are one run, and its hours lie in them, some in the first and in the last."""
        job, model = self.season.jobs[j], self.model
        under_way, first, last = self.under_way[j], self.first[j], self.last[j]
        model.add(sum(first) == self.planned[j])
        model.add(sum(last) == self.planned[j])
        if not job.hours:
            model.add(sum(under_way) == self.planned[j])
        for p in self.range:
            before: Linear = under_way[p - 1] if p else 0
            after: Linear = under_way[p + 1] if p + 1 < self.season.months else 0
            model.add(first[p] >= under_way[p] - before)
            model.add(last[p] >= under_way[p] - after)
            model.add_implication(first[p], under_way[p])
            model.add_implication(last[p], under_way[p])
            for m in job.needs:
                self._needs(under_way[p], m, p)
        self.hours.append([self._hours_in(j, p) for p in self.range] if job.hours else [])
        if job.hours:
            model.add(sum(self.hours[j]) == job.hours * self.planned[j])

    def _hours_in(self, j: int, p: int) -> Var:
        job, most = self.season.jobs[j], self.season.hours[p]
        hours = self.model.new_int_var(0, min(job.hours, most), f"{job.code} hours {p}")
        self.model.add(hours <= most * self.under_way[j][p])
        self.model.add(hours >= self.first[j][p])
        self.model.add(hours >= self.last[j][p])
        return hours

    def _needs(self, under_way: Var, m: int, month: int) -> None:
        work = self.season.enabling[m]
        for p in range(month - work.ahead, month + 1):
            if p >= 0:
                self.model.add_implication(under_way, self.stands[m][p])
            elif not work.in_place:
                self.model.add(under_way == 0)

    def _within_hours_and_money(self) -> None:
        season = self.season
        for p in self.range:
            own = [hours[p] for hours in self.hours if hours]
            if own:
                self.model.add(sum(own) <= season.hours[p])
            if season.most is not None:
                begins = [
                    first[p] * job.cost for first, job in zip(self.first, season.jobs, strict=True)
                ]
                opens = [
                    starts[p] * work.cost
                    for starts, work in zip(self.starts, season.enabling, strict=True)
                ]
                self.model.add(sum([*begins, *opens]) <= season.most)

    # --- Solving -----------------------------------------------------------------------------

    def best(self, plan: WorkPlan, effort: float) -> WorkPlan:
        proven = True
        for figure, least in enumerate(self._figures()):
            self.model.minimize(least)
            self._hint(plan)
            solver = _solver(effort)
            status = solver.solve(self.model)
            if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                plan = min(plan, self._plan(solver), key=lambda one: merit(self.season, one))
            proven = proven and status == cp_model.OPTIMAL
            self.model.add(least <= merit(self.season, plan)[figure])
        return WorkPlan(plan.jobs, plan.in_place, proven)

    def _figures(self) -> list[Linear]:
        """What `problem.merit` counts, in its order."""
        left: list[list[Linear]] = [[], []]
        ends: list[list[Linear]] = [[], []]
        for j, job in enumerate(self.season.jobs):
            other = 0 if job.safety else 1
            left[other].append(1 - self.planned[j])
            ends[other] += [p * weight_of(job) * self.last[j][p] for p in self.range]
        enabling = [
            work.cost * start
            for work, starts in zip(self.season.enabling, self.starts, strict=True)
            for start in starts
        ]
        stands = [one for of in self.stands for one in of]
        return [cp_model.LinearExpr.sum(one) for one in (*left, ends[0], enabling, ends[1], stands)]

    def _plan(self, solver: cp_model.CpSolver) -> WorkPlan:
        jobs = []
        for j in range(len(self.season.jobs)):
            months = [p for p in self.range if solver.value(self.under_way[j][p])]
            hours = [solver.value(one) for one in self.hours[j]] or [0] * self.season.months
            jobs.append(PlannedJob(months[0], months[-1], tuple(hours)) if months else None)
        stands = [tuple(bool(solver.value(one)) for one in of) for of in self.stands]
        return WorkPlan(tuple(jobs), tuple(stands))

    def _hint(self, plan: WorkPlan) -> None:
        """Begin from the plan that the step before found."""
        model = self.model
        model.clear_hints()  # type: ignore[no-untyped-call]  # untyped in the library
        for j, planned in enumerate(plan.jobs):
            model.add_hint(self.planned[j], planned is not None)
            for p in self.range:
                here = planned is not None and planned.begins <= p <= planned.ends
                model.add_hint(self.under_way[j][p], here)
                model.add_hint(self.first[j][p], planned is not None and planned.begins == p)
                model.add_hint(self.last[j][p], planned is not None and planned.ends == p)
                if self.hours[j]:
                    model.add_hint(self.hours[j][p], planned.hours[p] if planned else 0)
        for m, in_place in enumerate(plan.in_place):
            opened = begun(self.season, m, in_place)
            for p in self.range:
                model.add_hint(self.stands[m][p], in_place[p])
                model.add_hint(self.starts[m][p], p in opened)


def _solver(effort: float) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = SEED
    solver.parameters.max_deterministic_time = effort
    return solver
