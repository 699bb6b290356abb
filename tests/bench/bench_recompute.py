"""Recomputing a whole list, compared with the time of drawing its beta variates.

Run by name: python -m tests.bench.bench_recompute. 25 boats x 75 checkpoints x 6 graders: fit of
the belief, 8,192 draws a boat with roll-up and table by level, order, next looks. Wanted: at most 5
times what numpy takes to draw 25 x 8,192 x 60 beta variates, one for each remedy of each boat. All
are processor times, so that other work on the machine matters little.

The physical bound of drawing plainly: the uniform numbers that levels, calls and reports need have
to be drawn, and the arrays of draws have to be written once and read once by each step that uses
them. The board needs the steps before "table by level", and the order.
"""

import sys
import time

import numpy as np

from apps.reckoning.advice import AdviceInputs, chance_best, chance_better, strike_off_advice
from apps.reckoning.costs import DRAWS, Draws, expected_costs, rollup, simulate
from apps.reckoning.grader_priors import member_prior, surveyor_prior
from apps.reckoning.levels import discretised_normal
from apps.reckoning.looking import Decision, prospect
from apps.reckoning.mixture import fit_mixed
from apps.reckoning.ranking import group_standing, member_orders
from apps.reckoning.surveying import survey_advice
from apps.reckoning.utility import overrun_penalty
from tests.bench.fleet import (
    BOATS,
    CHECKPOINTS,
    ENABLING,
    GRADERS,
    LINKS,
    REMEDIES,
    Case,
    invented_case,
)

WANTED_RATIO, CONFIDENCE, REPEATS = 5.0, 0.80, 5
FEES = 900.0
BOARD = ("fit", "draws", "exact means", "roll-up", "order")


class Clock:
    """Processor seconds spent in each step, in the order of their first mention."""

    def __init__(self) -> None:
        self.steps: dict[str, float] = {}
        self._last = time.process_time()

    def mark(self, step: str) -> None:
        now = time.process_time()
        self.steps[step] = self.steps.get(step, 0.0) + now - self._last
        self._last = now

    @property
    def total(self) -> float:
        return sum(self.steps.values())


def recompute(case: Case) -> Clock:
    """The computation after a new submission, without the database."""
    clock = Clock()
    belief = fit_mixed(case.fleet, case.priors, case.reports, member_prior(GRADERS))
    clock.mark("fit")

    prospects, figures, valuations = [], [], case.valuation * np.linspace([0.9], [1.1], GRADERS)
    drawn, regretted = [], []
    penalty = overrun_penalty(CONFIDENCE)
    for boat, purchase in enumerate(case.purchases):
        care, level = belief.of_boat(boat)
        draws = simulate(care, level, case.work, purchase, seed=boat)
        clock.mark("draws")
        exact = expected_costs(care, level, case.work, purchase)
        clock.mark("exact means")
        figures.append(
            rollup(draws, case.work, purchase, exact, case.budget, area=case.area, cause=case.cause)
        )
        clock.mark("roll-up")
        valuation = float(case.valuation[boat])
        prospects.append(
            prospect(care, level, draws, case.work, exact, valuation=valuation, budget=case.budget)
        )
        clock.mark("table by level")
        regretted.append(prospects[-1].cost.regretted(case.budget, penalty))
        drawn.append(prospects[-1].cost.drawn(case.budget, penalty))
        clock.mark("order")

    utility = valuations - np.array([each.mean for each in regretted])
    evidence = AdviceInputs(
        expected_utility=utility,
        chance_better=chance_better(valuations, np.stack(drawn)),
        chance_costs_more=(np.stack(drawn) > case.valuation[:, None]).mean(axis=1),
        chance_best=chance_best(case.valuation, np.stack(drawn), np.ones(BOATS, dtype=bool)),
        chance_within_budget=np.array([each.within_budget for each in figures]),
        required_confidence=CONFIDENCE,
        musts=[],
        level=belief.level,
        looked=case.fleet.applies,
        walk_away_level=np.full(CHECKPOINTS, -1),
        doubt_level=np.full((BOATS, CHECKPOINTS), -1),
        doubt_seen_by=np.zeros((BOATS, CHECKPOINTS), dtype=np.intp),
        grave=np.zeros(CHECKPOINTS, dtype=bool),
    )
    strike_off_advice(evidence)
    error = np.array([each.error for each in regretted])
    group_standing(member_orders(utility, error, np.ones_like(utility, dtype=bool)))
    clock.mark("order")

    decision = Decision(prospects, budget=case.budget, penalty=penalty)
    report = belief.graders.report_probabilities()[0]
    decision.checks(report)
    for boat in range(BOATS):
        decision.visits(boat, case.fleet.applies[boat][None], report, seed=1)
        survey_advice(decision, boat, surveyor_table(), fee=FEES, seed=1)
    decision.ceiling  # noqa: B018
    clock.mark("next looks")
    return clock


def surveyor_table() -> np.ndarray:
    """P(report | level) of a surveyor at the middle of the prior."""
    spread = float(np.exp(surveyor_prior().log_spread_mean[0]))
    return discretised_normal(np.arange(5.0), spread)


def seconds(call) -> float:
    start = time.process_time()
    call()
    return time.process_time() - start


def draw_betas() -> None:
    generator = np.random.default_rng(1)
    for _ in range(BOATS):
        generator.beta(2.2, 3.8, (REMEDIES, DRAWS))


def bound(case: Case) -> tuple[float, float, float, float]:
    """Numbers to draw, bytes to move, and the seconds that each takes here."""
    # Levels, calls, and the reports of a visit and of a survey.
    numbers = BOATS * DRAWS * (CHECKPOINTS + LINKS + 2 * CHECKPOINTS)
    generator = np.random.default_rng(1)
    row = np.empty(DRAWS, dtype=np.float32)
    drawing = seconds(
        lambda: [generator.random(out=row, dtype=np.float32) for _ in range(numbers // DRAWS)]
    )
    levels = np.full((3, CHECKPOINTS, 5), 0.2)
    draws: Draws = simulate(np.full(3, 1 / 3), levels, case.work, case.purchases[0], seed=1)
    size = sum(getattr(draws, name).nbytes for name in Draws.__slots__)
    moved = float(BOATS * 3 * size)  # written by the draws, read by roll-up and table by level
    large = np.ones(16_000_000, dtype=np.float32)
    large.sum()
    moving = moved / large.nbytes * min(seconds(large.sum) for _ in range(5))
    return float(numbers), moved, drawing, moving


def main() -> int:
    case = invented_case()
    first = recompute(case)
    clocks, betas = [], []
    for _ in range(REPEATS):  # alternating, so that other load on the machine affects both
        betas.append(seconds(draw_betas))
        clocks.append(recompute(case))
    beta = float(np.median(betas))
    ours = sorted(clocks, key=lambda clock: clock.total)[REPEATS // 2]
    ratio = ours.total / beta
    numbers, moved, drawing, moving = bound(case)
    print(
        f"{BOATS} boats x {CHECKPOINTS} checkpoints x {GRADERS} graders, "
        f"{len(case.reports.boat):,} reports, {DRAWS:,} draws, {REMEDIES} remedies, "
        f"{ENABLING} enabling works, {LINKS} links"
    )
    for step, spent in ours.steps.items():
        print(f"  {step:15} {spent * 1e3:7.1f} ms  {spent / ours.total:4.0%}")
    print(f"  {'whole':15} {ours.total * 1e3:7.1f} ms  (first run {first.total * 1e3:.1f} ms)")
    board = sum(ours.steps[step] for step in BOARD)
    print(f"  {'the board':15} {board * 1e3:7.1f} ms, {board / beta:.2f} of the bare beta draws")
    print(f"bare beta draws {beta * 1e3:.1f} ms for {BOATS * DRAWS * REMEDIES / 1e6:.1f} million")
    print(f"ratio {ratio:.2f}, wanted at most {WANTED_RATIO:.0f}")
    print(
        f"bound: {numbers / 1e6:.0f} million uniform numbers {drawing * 1e3:.0f} ms, "
        f"{moved / 1e9:.2f} GB moved {moving * 1e3:.0f} ms; "
        f"we take {ours.total / (drawing + moving):.1f} times that"
    )
    return int(ratio > WANTED_RATIO)


if __name__ == "__main__":
    sys.exit(main())
