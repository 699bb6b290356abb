"""Does the board choose well? Simulated seasons whose true boats are known (`seasons`).

Run by name: python -m tests.bench.bench_decisions [--seasons 200] [--world assumed] [--first 0].

Each season is decided by the board and, from the same looks, by other methods: on paper (mean
level, usual job, likely price, unseen parts are fine; with nothing, a quarter and a half added), by
the worst reported level, and by the asking price alone. A boat's true worth to the group is its
expected regretted surplus given her true levels, averaged over required jobs and the trade's
prices, because no look can reveal them. Loss is the worth of the best choice, which may be to buy
none, less that of the choice made. The limit is the same computation with known leans and spreads.

Wanted: in the assumed world at most 1.08 times the limit; in the other at most 0.22 of what paper
loses on average; the truly best boat advised off in at most 5% of seasons while at least 70% of the
boats not worth having are.
"""

import argparse
import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import django
import numpy as np

django.setup()

from apps.appraisal.compute import computing  # noqa: E402
from apps.appraisal.compute.computing import Computed, compute  # noqa: E402
from apps.appraisal.pooling.pooled import KnownGrader, Pooled  # noqa: E402
from apps.reckoning.arrays import Floats  # noqa: E402
from apps.reckoning.costs import expected_costs, simulate  # noqa: E402
from apps.reckoning.levels import LEVELS  # noqa: E402
from apps.reckoning.priors import CARE_PRIOR  # noqa: E402
from apps.reckoning.utility import Cost, overrun_penalty  # noqa: E402
from tests.bench.paper import by_the_price, by_the_worst, on_paper  # noqa: E402
from tests.bench.seasons import season  # noqa: E402
from tests.bench.worlds import OTHERWISE, WORLDS, Season, World  # noqa: E402

PAPER = {"paper": 0.0, "paper + 25%": 0.25, "paper + 50%": 0.5}
WAYS = ("board", "limit", *PAPER, "worst level", "asking price")
WANTED_OF_LIMIT, WANTED_OF_PAPER = 1.08, 0.22
WANTED_BEST_ADVISED_OFF, WANTED_BAD_ADVISED_OFF = 0.05, 0.70
PROCESSES = 2


@dataclass(frozen=True, eq=False)
class Played:
    """One season. utility: (I,) true worth of buying each boat. over: (I,) chance of going over.

    choice: by way, None for none. advice: (I,) codes.
    """

    utility: Floats
    over: Floats
    choice: Mapping[str, int | None]
    advice: Sequence[frozenset[str]]

    @property
    def best(self) -> int | None:
        best = int(self.utility.argmax())
        return best if self.utility[best] > 0 else None

    def loss(self, way: str) -> float:
        return self._worth(self.best) - self._worth(self.choice[way])

    def _worth(self, boat: int | None) -> float:
        return 0.0 if boat is None else float(self.utility[boat])


def play(number: int, world: World) -> Played:
    played = season(number, world)
    board = compute(played.inputs)
    told = compute(replace(played.inputs, pooled=knowing_raters(played)))
    utility, over = true_worth(played, board)
    return Played(
        utility=utility,
        over=over,
        choice={
            "board": chosen(board),
            "limit": chosen(told),
            **{way: on_paper(board, added=added) for way, added in PAPER.items()},
            "worst level": by_the_worst(board),
            "asking price": by_the_price(board),
        },
        advice=[frozenset(one.code for one in advice) for advice in board.standing.advice],
    )


def chosen(computed: Computed) -> int | None:
    """The board's first boat, if she is expected to be worth more than she costs."""
    first = computed.standing.order[0]
    return first if computed.standing.group_utility[first] > 0 else None


def knowing_raters(played: Season) -> Pooled:
    """Everybody's true lean and spread, rounded to the grid of the fit."""
    known = {
        rater.person_id: KnownGrader(
            lean_mean=rater.lean,
            lean_sd=0.05,
            log_spread_mean=float(np.log(rater.whole_spread)),
            log_spread_sd=0.06,
        )
        for rater in played.truth.raters
    }
    at = played.inputs.today
    return Pooled(CARE_PRIOR, {}, known, groups=1, boats=1, computed_at=at)


def true_worth(played: Season, board: Computed) -> tuple[Floats, Floats]:
    """E[U] and the chance of going over the budget, given the true levels, (I,) each."""
    budget, penalty = (
        played.inputs.brief.budget,
        overrun_penalty(played.inputs.brief.required_confidence),
    )
    level = known_levels(played)
    care = np.array(CARE_PRIOR)  # has no effect on known levels
    regretted, over = np.empty((2, len(level)))
    for i, (boat, cost) in enumerate(zip(played.inputs.boats, board.costs, strict=True)):
        assert cost is not None  # every boat of a season can be priced
        known = care, np.tile(level[i], (3, 1, 1)), cost.costing.work, cost.costing.purchase
        # Not the board's own draws, which would favour its choice.
        draws = simulate(*known, seed=(boat.id.int ^ 1) % 2**63, draws=computing.DRAWS)
        exact = expected_costs(*known)
        came = Cost(draws.upfront, draws.all_in, exact.upfront, exact.all_in)
        regretted[i] = came.regretted(budget, penalty).mean
        over[i] = (draws.upfront > budget).mean()
    return board.standing.group_valuation - regretted, over


def known_levels(played: Season) -> Floats:
    """(I, J, 5): the belief of somebody who knows the levels."""
    level: Floats = np.eye(LEVELS)[played.truth.level] * played.arrays.fleet.applies[:, :, None]
    return level


def play_all(numbers: Iterable[int], world: World, draws: int) -> list[Played]:
    with ProcessPoolExecutor(PROCESSES, initializer=draw_so_many, initargs=(draws,)) as pool:
        return list(pool.map(partial(play, world=world), numbers, chunksize=4))


def draw_so_many(draws: int) -> None:
    computing.DRAWS = draws


# --- What came of it -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Mean:
    value: float
    error: float  # standard error

    @classmethod
    def of(cls, values: Sequence[float] | Floats) -> "Mean":
        x = np.asarray(values, float)
        error = x.std(ddof=1) / np.sqrt(len(x)) if len(x) > 1 else np.nan
        return cls(float(x.mean()) if len(x) else np.nan, float(error))


def ratio(above: Sequence[float], below: Sequence[float]) -> Mean:
    """The ratio of two means over the same seasons, with the paired standard error."""
    x, y = np.asarray(above, float), np.asarray(below, float)
    value = x.mean() / y.mean()
    return Mean(float(value), Mean.of(x - value * y).error / y.mean())


def losses(seasons: Sequence[Played], way: str) -> list[float]:
    return [one.loss(way) for one in seasons]


def over_budget(seasons: Sequence[Played], way: str) -> Mean:
    """How often the bought boat goes over the budget."""
    return Mean.of([one.over[one.choice[way]] for one in seasons if one.choice[way] is not None])


def of_limit(seasons: Sequence[Played]) -> Mean:
    return ratio(losses(seasons, "board"), losses(seasons, "limit"))


def of_paper(seasons: Sequence[Played]) -> Mean:
    """The ratio to the mean of the three paper methods."""
    paper = np.mean([losses(seasons, way) for way in PAPER], axis=0)
    return ratio(losses(seasons, "board"), paper)


def best_advised_off(seasons: Sequence[Played], code: str | None = None) -> Mean:
    """Share of seasons with a boat worth having in which the best one is advised off."""
    advised = [one.advice[one.best] for one in seasons if one.best is not None]
    return Mean.of([bool(codes) if code is None else code in codes for codes in advised])


def bad_advised_off(seasons: Sequence[Played], code: str | None = None) -> Mean:
    """Share of the boats that are not worth having which are advised off."""
    advised = [
        codes
        for one in seasons
        for codes, utility in zip(one.advice, one.utility, strict=True)
        if utility <= 0
    ]
    return Mean.of([bool(codes) if code is None else code in codes for codes in advised])


def report(seasons: Sequence[Played], world: World) -> bool:
    """Print the results; return whether all targets were met."""
    boats = sum(len(one.utility) for one in seasons)
    worthless = sum(int((one.utility <= 0).sum()) for one in seasons)
    none = sum(one.best is None for one in seasons)
    print(f"world: {world.name}; {len(seasons)} seasons, {boats} boats, {worthless} not worth")
    print(f"having; in {none} seasons none of them is")
    print(f"{'chosen by':14} {'loss in money':>20} {'over the budget':>18} {'bought':>7}")
    for way in WAYS:
        loss, over = Mean.of(losses(seasons, way)), over_budget(seasons, way)
        bought = np.mean([one.choice[way] is not None for one in seasons])
        print(
            f"{way:14} {loss.value:10,.0f} +- {loss.error:6,.0f} {over.value:11.1%} +- "
            f"{over.error:4.1%} {bought:7.0%}"
        )
    limit, paper = of_limit(seasons), of_paper(seasons)
    print(f"the board loses {limit.value:.2f} +- {limit.error:.2f} times what the limit loses,")
    print(f"and {paper.value:.3f} +- {paper.error:.3f} of what paper loses on average")
    codes = sorted({code for one in seasons for advice in one.advice for code in advice})
    best, bad = best_advised_off(seasons), bad_advised_off(seasons)
    print(f"{'advised off':18} {'the truly best':>16} {'not worth having':>18}")
    for code in codes:
        best_by, bad_by = best_advised_off(seasons, code), bad_advised_off(seasons, code)
        print(f"  {code:16} {best_by.value:16.1%} {bad_by.value:18.1%}")
    shares = f"{best.value:8.1%} +- {best.error:4.1%} {bad.value:10.1%} +- {bad.error:4.1%}"
    print(f"  {'by any':16} {shares}")
    wanted = (
        paper.value <= WANTED_OF_PAPER if world is OTHERWISE else limit.value <= WANTED_OF_LIMIT
    )
    return bool(
        wanted and best.value <= WANTED_BEST_ADVISED_OFF and bad.value >= WANTED_BAD_ADVISED_OFF
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seasons", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="number of the first season")
    parser.add_argument("--draws", type=int, default=computing.DRAWS, help="of each boat")
    parser.add_argument("--world", choices=WORLDS, action="append")
    options = parser.parse_args()
    reached = True
    for name in options.world or WORLDS:
        world = WORLDS[name]
        numbers = range(options.first, options.first + options.seasons)
        reached &= report(play_all(numbers, world, options.draws), world)
    return int(not reached)


if __name__ == "__main__":
    sys.exit(main())
