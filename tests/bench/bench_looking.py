"""Does 'what to look at next' help? Simulated seasons after thin looks (`seasons`).

Run by name: python -m tests.bench.bench_looking [--seasons 1000] [--world assumed] [--first 0].

After a tenth to a third of each boat was seen, one more look is made: a single check, a visit or a
professional survey; or two visits one after the other. The service's advice chooses it, or a rule
of thumb: the leading boat, any boat, the least seen boat. Saved is the true worth of the board's
choice after the look less that of its choice before. The same look gives the same reports whatever
rule chose it, so rules are compared on common random numbers. `best possible` simulates a visit to
each boat many times, with known leans and spreads (`brute_force`); `hindsight` is the best of all
looks, chosen with their results known.

Wanted: as advised saves at least 1.3 times what the best rule of thumb saves, by two standard
errors; where the best possible rule saves less than that, at least 0.95 of it.
"""

import argparse
import sys
from collections.abc import Collection, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

# The first sets Django up, without a database.
from tests.bench.bench_decisions import PROCESSES, Mean, draw_so_many, ratio, true_worth

from apps.appraisal.compute.deciding import Deciding, lookers_of  # isort: skip
from apps.appraisal.compute.deciding import surveyor_reports, visitor_of  # isort: skip
from apps.appraisal.compute.visit_checks import are_hampered  # isort: skip
from apps.catalogue.applicability import prevented
from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.surveying import survey_advice
from tests.bench.boards import Board, State, deciding_at
from tests.bench.brute_force import worth_by_trying
from tests.bench.seasons import season
from tests.bench.seeing import survey_of, visible, visit_of
from tests.bench.worlds import PEOPLE, WORLDS, Season, World

THIN = (0.10, 0.33)
SEED = 5
KINDS = ("check", "visit", "two visits", "survey")
THUMB = ("leader", "any boat", "least seen")
WANTED_OF_THUMB, WANTED_OF_BEST, ERRORS = 1.3, 0.95, 2.0
# How a boat may lie that was looked at ashore, and how often (project's own estimate).
LIES = {
    "covered": 0.4,
    "mast_down": 0.4,
    "engine_winterised": 0.5,
    "batteries_off": 0.4,
    "poor_light": 0.2,
    "seller_absent": 0.4,
}


@dataclass(frozen=True)
class Made:
    """One look: its predicted value, and what it saved, in money.

    tried: what many tries in simulation say it is worth, told how everybody sees.
    """

    predicted: float
    saved: float
    tried: float = np.nan


Kinds = Mapping[str, Mapping[str, Made]]  # by kind of look, then by rule


def play_looks(number: int, world: World, asked: Sequence[str] = KINDS) -> Kinds:
    board = Board(season(number, world, seen=THIN))
    before = board.begins
    rng = np.random.default_rng([31, number])
    trial = Trial(number, board, true_worth(before.played, before.computed)[0], rng)
    deciding = deciding_at(before)
    if deciding is None:
        return {}
    make = dict(
        zip(KINDS, (trial.checks, trial.visits, trial.two_visits, trial.surveys), strict=True)
    )
    return {kind: make[kind](deciding) for kind in asked}


class Trial:
    """All looks of one season; each gives the same reports whichever rule chooses it."""

    def __init__(
        self, number: int, board: Board, utility: Floats, rng: np.random.Generator
    ) -> None:
        self.number, self.board, self.utility = number, board, utility
        self.before = before = board.begins
        boats = len(utility)
        self.any_boat = rng.integers(boats, size=2)
        self.person = rng.permutation(PEOPLE)[:2]
        lies = [lies_as(rng) for _ in range(boats)]
        self.possible = np.stack([possible(before.played, i, how) for i, how in enumerate(lies)])
        self.hampered = np.stack([are_hampered(before.played.arrays.checkpoints, h) for h in lies])
        self.seen: dict[tuple[object, ...], State] = {}

    # --- What a look brings ---

    def saved(self, after: State) -> float:
        return self._worth(after.choice) - self._worth(self.before.choice)

    def _worth(self, boat: int | None) -> float:
        return 0.0 if boat is None else float(self.utility[boat])

    def rng(self, *of: int) -> np.random.Generator:
        return np.random.default_rng([77, self.number, *of])

    def visited(self, state: State, boat: int, turn: int, path: tuple[int, ...] = ()) -> State:
        key = ("visit", *path, boat)
        if key not in self.seen:
            found = visit_of(
                state.played, boat, int(self.person[turn]), self.possible[boat], turn,
                self.rng(1, turn, boat), self.hampered[boat],
            )  # fmt: skip
            self.seen[key] = self.board.again(state.played.with_findings(found))
        return self.seen[key]

    # --- One visit ---

    def visits(self, deciding: Deciding) -> dict[str, Made]:
        predicted, tried = self.predicted(self.before, deciding), self.tried(deciding)
        boats = {"advised": int(predicted.argmax()), **self.rules(self.before, 0)}
        boats["best possible"] = int(tried[0].argmax())
        made = {
            rule: Made(
                predicted[boat], self.saved(self.visited(self.before, boat, 0)), tried[1, boat]
            )
            for rule, boat in boats.items()
        }
        could = (self.visited(self.before, int(i), 0) for i in np.flatnonzero(tried.any(axis=0)))
        return made | {"hindsight": Made(np.nan, max([0.0, *map(self.saved, could)]), np.nan)}

    def tried(self, deciding: Deciding) -> Floats:
        """(2, I) worth of a visit to each boat by trying, from two halves of the tries."""
        played = self.before.played
        told = self.board.told(played)
        rater = played.truth.raters[int(self.person[0])]
        may_matter = [
            i for n, i in enumerate(deciding.boats) if deciding.decision.everything(n) >= 1.0
        ]
        value = np.zeros((2, len(self.utility)))
        for i in may_matter:
            rng = np.random.default_rng([5, self.number, i])
            value[:, i] = worth_by_trying(
                told.believed.belief, told.utility, i, rater, self.possible[i], self.hampered[i],
                self.board.quick[i], rng,
            )  # fmt: skip
        return value

    def predicted(self, state: State, deciding: Deciding) -> Floats:
        """(I,) the values that the service computes."""
        visitor, value = visitor_of(state.computed), np.zeros(len(self.utility))
        for n, i in enumerate(deciding.boats):
            if deciding.decision.everything(n) >= 1.0:
                value[i] = deciding.decision.visit(
                    n, self.possible[i], visitor, seed=SEED, hampered=self.hampered[i]
                )
        return value

    def rules(self, state: State, turn: int) -> dict[str, int]:
        return {
            "leader": state.leader,
            "any boat": int(self.any_boat[turn]),
            "least seen": state.least_seen,
        }

    # --- Two visits ---

    def two_visits(self, deciding: Deciding) -> dict[str, Made]:
        made = {}
        for rule in ("advised", *THUMB):
            state, path, predicted = self.before, (), 0.0
            for turn in (0, 1):
                boat = self.rules(state, turn).get(rule)
                if boat is None:
                    now = deciding if turn == 0 else deciding_at(state)
                    value = self.predicted(state, now)
                    boat, predicted = int(value.argmax()), predicted + value.max()
                state = self.visited(state, boat, turn, path)
                path = (*path, boat)
            made[rule] = Made(predicted if rule == "advised" else np.nan, self.saved(state))
        return made

    # --- A survey ---

    def surveys(self, deciding: Deciding) -> dict[str, Made]:
        """Surveys without their cost: the fee of the bought boat is paid in any case."""
        report, predicted = surveyor_reports(), np.zeros(len(self.utility))
        for n, i in enumerate(deciding.boats):
            advice = survey_advice(deciding.decision, n, report, fee=0.0, seed=SEED)
            predicted[i] = advice.weighed.value
        boats = {"advised": int(predicted.argmax()), **self.rules(self.before, 0)}
        return {
            rule: Made(predicted[boat], self.saved(self.surveyed(boat)))
            for rule, boat in boats.items()
        }

    def surveyed(self, boat: int) -> State:
        key = ("survey", boat)
        if key not in self.seen:
            found = survey_of(self.before.played, boat, self.rng(2, boat))
            self.seen[key] = self.board.again(self.before.played.with_findings(found))
        return self.seen[key]

    # --- One check ---

    def checks(self, deciding: Deciding) -> dict[str, Made]:
        """Checks by the person of the first visit; by thumb, the weightiest unseen one."""
        computed = self.before.computed
        who = self.before.played.inputs.buyers[int(self.person[0])].person_id
        lookers = lookers_of(computed)
        looker = next((one for one in lookers if one.person_id == who), lookers[0])
        value = np.zeros(self.possible.shape)
        value[list(deciding.boats)] = deciding.decision.checks(looker.report)
        value *= self.possible
        advised = np.unravel_index(value.argmax(), value.shape)
        found = {"advised": (int(advised[0]), int(advised[1]))}
        for rule, boat in self.rules(self.before, 0).items():
            open_to = self.possible[boat] & ~computed.arrays.looked[boat]
            found[rule] = boat, int((computed.arrays.weights * open_to).argmax())
        return {rule: Made(value[at], self.saved(self.checked(*at))) for rule, at in found.items()}

    def checked(self, boat: int, checkpoint: int) -> State:
        key = ("check", boat, checkpoint)
        if key not in self.seen:
            only = np.arange(self.possible.shape[1]) == checkpoint
            found = visit_of(
                self.before.played, boat, int(self.person[0]), only, 0,
                self.rng(3, boat, checkpoint),
            )  # fmt: skip
            self.seen[key] = self.board.again(self.before.played.with_findings(found))
        return self.seen[key]


def lies_as(rng: np.random.Generator) -> frozenset[str]:
    """Random conditions of a boat ashore."""
    return frozenset({"ashore", *(word for word, often in LIES.items() if rng.random() < often)})


def possible(played: Season, i: int, lies: Collection[str]) -> Bools:
    """(J,): the checkpoints that are possible in these conditions."""
    open_to_view = [c.place != "ask" and not prevented(c, lies) for c in played.arrays.checkpoints]
    return visible(played, i) & np.array(open_to_view)


def play_all(numbers: Iterable[int], world: World, draws: int, asked: Sequence[str]) -> list[Kinds]:
    with ProcessPoolExecutor(PROCESSES, initializer=draw_so_many, initargs=(draws,)) as pool:
        played = pool.map(partial(play_looks, world=world, asked=asked), numbers, chunksize=2)
        return [kinds for kinds in played if kinds]


# --- What came of it -----------------------------------------------------------------------------


def saved(seasons: Sequence[Kinds], kind: str, rule: str) -> list[float]:
    return [one[kind][rule].saved for one in seasons]


def report(seasons: Sequence[Kinds], world: World) -> bool:
    """Print it; whether all that is wanted was reached."""
    print(f"world: {world.name}; {len(seasons)} seasons after thin looks")
    reached = True
    for kind in seasons[0]:
        print(f"{kind:14} {'predicted':>10} {'by trying':>16} {'saved':>20}")
        for rule in seasons[0][kind]:
            made = [one[kind][rule] for one in seasons]
            predicted, tried, came = (
                Mean.of([getattr(one, name) for one in made])
                for name in ("predicted", "tried", "saved")
            )
            told = "" if np.isnan(predicted.value) else f"{predicted.value:,.0f}"
            trying = "" if np.isnan(tried.value) else f"{tried.value:,.0f} +- {tried.error:3,.0f}"
            print(f"  {rule:12} {told:>10} {trying:>16} {came.value:10,.0f} +- {came.error:5,.0f}")
        reached &= enough(seasons, kind)
    return reached


def enough(seasons: Sequence[Kinds], kind: str) -> bool:
    advised = saved(seasons, kind, "advised")
    thumb = max(THUMB, key=lambda rule: np.mean(saved(seasons, kind, rule)))
    by_thumb = saved(seasons, kind, thumb)
    beyond = Mean.of(np.array(advised) - WANTED_OF_THUMB * np.array(by_thumb))
    times = ratio(advised, by_thumb)
    print(f"  as advised saves {times.value:.2f} +- {times.error:.2f} times what {thumb!r} saves")
    reached = beyond.value >= ERRORS * beyond.error
    if "best possible" in seasons[0][kind]:
        best = saved(seasons, kind, "best possible")
        of_best, of_thumb = ratio(advised, best), ratio(best, by_thumb)
        print(f"  and {of_best.value:.2f} +- {of_best.error:.2f} of the best possible rule; that")
        print(f"  saves {of_thumb.value:.2f} +- {of_thumb.error:.2f} times what {thumb!r} saves")
        reached |= of_thumb.value < WANTED_OF_THUMB and of_best.value >= WANTED_OF_BEST
        by_trying(seasons, kind, thumb)
    return reached


def by_trying(seasons: Sequence[Kinds], kind: str, thumb: str) -> None:
    """The same by many simulated tries: much less noise, and right if the model is."""
    tried = {
        rule: [one[kind][rule].tried for one in seasons]
        for rule in ("advised", thumb, "best possible")
    }
    of_thumb = ratio(tried["advised"], tried[thumb])
    of_best = ratio(tried["advised"], tried["best possible"])
    best = ratio(tried["best possible"], tried[thumb])
    print(f"  by trying {of_thumb.value:.2f} +- {of_thumb.error:.2f} times what {thumb!r} saves,")
    print(f"  and {of_best.value:.2f} +- {of_best.error:.2f} of the best possible rule; that")
    print(f"  saves {best.value:.2f} +- {best.error:.2f} times what {thumb!r} saves")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seasons", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0, help="number of the first season")
    parser.add_argument("--draws", type=int, default=2048, help="of each boat, in every step")
    parser.add_argument("--world", choices=WORLDS, action="append")
    parser.add_argument("--kind", choices=KINDS, action="append", help="of look; all by default")
    options = parser.parse_args()
    reached = True
    for name in options.world or WORLDS:
        numbers = range(options.first, options.first + options.seasons)
        played = play_all(numbers, WORLDS[name], options.draws, options.kind or KINDS)
        reached &= report(played, WORLDS[name])
    return int(not reached)


if __name__ == "__main__":
    sys.exit(main())
