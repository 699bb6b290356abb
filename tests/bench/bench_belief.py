"""The grader model on 1,000,000 reports against an independent library, in one run.

Run by name: python -m tests.bench.bench_belief. Wanted: a round at least 20 times faster than one
of crowd-kit's DawidSkene on the same reports, and at most 10 times the memory of the reports' own
arrays. Both are timed in processor seconds, the best of several runs, as the difference between a
long and a short fit, so that setting up is left out on both sides; it is printed apart.

The physical bound of a round is the memory it must move: the counts of the reports read once to
weigh levels and once to weigh graders, the prior of every cell read once, its likelihood and level
written once and the level read again. How fast this machine moves memory is measured in the same
run as a plain copy.
"""

import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from crowdkit.aggregation import DawidSkene
from threadpoolctl import threadpool_limits

from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import WIDENING, member_prior
from apps.reckoning.priors import CARE_PRIOR, CheckpointPriors, Fleet, Reports, prior_levels
from tests.bench.fleet import invented_case

REPORTS = 1_000_000
BOATS, CHECKPOINTS, GRADERS = 25, 75, 6  # of one list; the club has as many lists as it takes
WANTED_RATIO, WANTED_MEMORY = 20.0, 10.0


@dataclass(frozen=True)
class Club:
    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    graders: int


def invented_club(looked: float) -> Club:
    """Lists of 25 boats x 75 checkpoints x 6 graders, who look at a share `looked` of it all."""
    draw = np.random.default_rng(1979)
    lists = int(np.ceil(REPORTS / (BOATS * CHECKPOINTS * GRADERS * looked * 0.99)))
    boats = lists * BOATS
    fleet = Fleet(
        part_age=np.repeat(draw.uniform(10, 45, (boats, 1)), CHECKPOINTS, axis=1),
        applies=np.ones((boats, CHECKPOINTS), dtype=bool),
    )
    priors = CheckpointPriors(
        mu=draw.uniform(0.5, 2.0, CHECKPOINTS),
        age=draw.uniform(0.1, 0.4, CHECKPOINTS),
        care=draw.uniform(0.3, 1.2, CHECKPOINTS),
        sd=draw.uniform(0.6, 1.1, CHECKPOINTS),
    )
    care = draw.choice(3, boats, p=CARE_PRIOR)
    reached = np.cumsum(prior_levels(fleet, priors)[np.arange(boats), care], axis=-1)
    level = (draw.random((boats, CHECKPOINTS, 1)) > reached[..., :-1]).sum(axis=-1)
    looks = np.flatnonzero(draw.random(boats * CHECKPOINTS * GRADERS) < looked)
    cell, own = np.divmod(draw.permutation(looks)[:REPORTS], GRADERS)
    boat, checkpoint = np.divmod(cell, CHECKPOINTS)
    grader = boat // BOATS * GRADERS + own
    lean = draw.normal(0.0, 0.5, lists * GRADERS)
    spread = np.exp(draw.normal(np.log(0.6), 0.35, lists * GRADERS))
    widening = draw.choice(list(WIDENING.values()), REPORTS)
    seen = level[boat, checkpoint] + lean[grader]
    seen = seen + spread[grader] * widening * draw.normal(size=REPORTS)
    report = np.clip(np.rint(seen), 0, 4).astype(np.intp)
    reports = Reports(boat, checkpoint, grader, report, widening)
    return Club(fleet, priors, reports, lists * GRADERS)


def seconds(call: Callable[[], object], repeats: int) -> float:
    """Processor seconds of the best of several runs."""
    runs = []
    for _ in range(repeats):
        start = time.process_time()
        call()
        runs.append(time.process_time() - start)
    return min(runs)


def fitted(club: Club, rounds: int) -> None:
    outcome = fit(
        club.fleet,
        club.priors,
        club.reports,
        member_prior(club.graders),
        tolerance=0.0,
        max_rounds=rounds,
    )
    assert outcome.rounds == rounds


def own_round(club: Club) -> tuple[float, float]:
    """Seconds per round, and for everything else."""
    short, long = 1, 21
    once = seconds(lambda: fitted(club, short), 5)
    many = seconds(lambda: fitted(club, long), 5)
    each = (many - once) / (long - short)
    return each, once - each


def reference_round(club: Club) -> tuple[float, float]:
    """The same for the library. An unreachable tolerance makes it run all n_iter rounds."""
    reports = club.reports
    table = pd.DataFrame(
        {
            "task": reports.boat * CHECKPOINTS + reports.checkpoint,
            "worker": reports.grader,
            "label": reports.level,
        }
    )

    def fit_reference(rounds: int) -> None:
        model = DawidSkene(n_iter=rounds, tol=-np.inf).fit(table)
        assert len(model.loss_history_) == rounds

    short, long = 1, 4
    once = seconds(lambda: fit_reference(short), 3)
    many = seconds(lambda: fit_reference(long), 3)
    each = (many - once) / (long - short)
    return each, once - each


def peak_memory(club: Club) -> int:
    """The most bytes that a fit uses besides its input."""
    tracemalloc.start()
    fitted(club, 3)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def bytes_moved(club: Club) -> int:
    """The bytes that a round must move, in the fit's types."""
    reports, cells = len(club.reports), club.fleet.applies.size
    entry = 8 + 4  # a count and the code it belongs to
    prior, level = 3 * 5 * 8, 5 * 8
    return 2 * reports * entry + cells * (prior + 3 * level)


def copy_speed() -> float:
    """Bytes read and written per second by a copy that is too large for any cache."""
    source = np.ones(50_000_000)
    target = np.empty_like(source)
    return 2 * source.nbytes / seconds(lambda: np.copyto(target, source), 5)


def report_on(looked: float) -> bool:
    club = invented_club(looked)
    names = Reports.__slots__
    own_bytes = sum(getattr(club.reports, name).nbytes for name in names)
    each, rest = own_round(club)
    reference, reference_rest = reference_round(club)
    memory = peak_memory(club)
    bound = bytes_moved(club) / copy_speed()
    ratio, memory_ratio = reference / each, memory / own_bytes
    print(f"{REPORTS:,} reports by {club.graders:,} graders, {looked:.0%} looked at:")
    print(f"  a round           {each * 1e3:8.1f} ms  (and {rest * 1e3:,.0f} ms once)")
    print(
        f"  crowd-kit's       {reference * 1e3:8.1f} ms  (and {reference_rest * 1e3:,.0f} ms once)"
    )
    print(f"  ratio             {ratio:8.1f}     wanted {WANTED_RATIO:.0f}")
    print(f"  memory at peak    {memory / 1e6:8.1f} MB  {memory_ratio:.1f} x the reports' own")
    print(f"  physical bound    {bound * 1e3:8.1f} ms  {bytes_moved(club) / 1e6:.0f} MB moved")
    print(f"  from the bound    {each / bound:8.1f} x")
    return ratio >= WANTED_RATIO and memory_ratio <= WANTED_MEMORY


def report_on_a_list() -> None:
    """Fit a list of the usual size, to convergence at 1e-6."""
    case = invented_case()

    def fit_list() -> None:
        outcome = fit(case.fleet, case.priors, case.reports, member_prior(GRADERS))
        assert outcome.converged

    took = seconds(fit_list, 5)
    print(f"one list, {len(case.reports):,} reports, to 1e-6: {took * 1e3:.1f} ms")


def main() -> int:
    with threadpool_limits(1):  # one thread on both sides, so that processor seconds compare
        report_on_a_list()
        report_on(0.45)  # sparser than the case with a target; only printed
        return 0 if report_on(1.0) else 1


if __name__ == "__main__":
    sys.exit(main())
