"""What a seller's answers before a journey save, and what bargaining after a survey saves.

Run by name: python -m tests.bench.bench_selling [--seasons 60] [--world assumed] [--first 0].

Simulated seasons (`seasons`) whose sellers are simulated too (`sellers`). First, before anybody has
looked: the group drives to all boats, or leaves out those that the board advises off from the
adverts alone, or from the adverts and the sellers' answers; then it looks, and takes the board's
best of those it saw. Second, from all looks: the board's first boat is bought, or surveyed before:
then the group takes her at the expected price or leaves her, or bargains by the rules of
`bargaining` and walks away beyond a limit of `offering`. A fee for a boat that is not bought is
lost. Worth is true: given the true levels, at the price paid. All ways of a season have the same
looks, answers, survey and sellers, so differences are paired.
"""

import argparse
import time
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

# The first sets Django up, without a database.
from tests.bench.bench_decisions import Mean, draw_so_many, known_levels

from apps.appraisal.compute import computing  # isort: skip
from apps.appraisal.compute.computing import Computed, compute
from apps.appraisal.compute.deciding import draws_of
from apps.reckoning.arrays import Floats
from apps.reckoning.costs import expected_costs, simulate
from apps.reckoning.offering import AtPrice, Limits
from apps.reckoning.priors import CARE_PRIOR
from apps.reckoning.utility import overrun_penalty
from apps.reckoning.work import MOST_OFF
from tests.bench.seasons import season
from tests.bench.seeing import first_looks, survey_of
from tests.bench.sellers import Seller, agreed_price, answers_of, seller_of
from tests.bench.worlds import WORLDS, Season, World

SEEN = (0.25, 0.75)  # share of a visited boat that is looked at
SCREENS = ("all", "advert", "answers")
WAYS = ("bought unsurveyed", "take or leave", "bargain", "bargain, in budget")


@dataclass(frozen=True, eq=False)
class Screened:
    """One way of choosing whom to visit. lost: whether the best boat worth having was not seen."""

    journeys: int
    worth: float
    lost: bool


@dataclass(frozen=True)
class Dealt:
    """One way of dealing for the first boat. off: below the expected price, if she was bought."""

    worth: float
    off: float | None


@dataclass(frozen=True, eq=False)
class Played:
    """boats: on the list. best: whether any is worth having. found: what the survey added to the
    expected work; None if no boat was worth a survey. agreed: whether the seller took it all off.
    """

    boats: int
    best: bool
    screened: Mapping[str, Screened]
    dealt: Mapping[str, Dealt]
    found: float | None
    agreed: bool


class Trial:
    """One season; `truly` has the cost of each boat at any price, given her true levels."""

    def __init__(self, number: int, world: World) -> None:
        self.number = number
        self.played = season(number, world, seen=(0.0, 0.0))
        boats = range(len(self.played.inputs.boats))
        self.unseen = compute(self.played.inputs)
        self.price = [self.cost(self.unseen, i).costing.purchase.expected_price for i in boats]
        self.sellers = [self.seller(i) for i in boats]
        self.looks = [self.looked(i) for i in boats]
        self.truly = [true_cost(self.played, self.unseen, i) for i in boats]
        brief = self.played.inputs.brief
        self.budget, self.penalty = brief.budget, overrun_penalty(brief.required_confidence)
        self.utility = np.array([self.worth(i, self.price[i]) for i in boats])

    def rng(self, *of: int) -> np.random.Generator:
        return np.random.default_rng([91, self.number, *of])

    def seller(self, i: int) -> Seller:
        asking = self.played.inputs.boats[i].asking_amount
        return seller_of(asking or 0.0, self.price[i], self.rng(1, i))

    def looked(self, i: int) -> Sequence[object]:
        rng = self.rng(2, i)
        return first_looks(self.played, i, rng.uniform(*SEEN), rng)

    @staticmethod
    def cost(computed: Computed, i: int) -> computing.BoatCost:
        cost = computed.costs[i]
        assert cost is not None  # every boat of a season can be priced
        return cost

    def worth(self, i: int | None, price: float) -> float:
        """True E[U] of buying a boat at this price; 0 for none."""
        if i is None:
            return 0.0
        cost = self.truly[i].cost(price).regretted(self.budget, self.penalty)
        return float(self.unseen.standing.group_valuation[i] - cost.mean)

    # --- Whom to visit ---

    def screens(self) -> tuple[dict[str, Screened], Computed]:
        """By each way, and the results if all boats were visited."""
        every = range(len(self.utility))
        answers = tuple(
            said
            for i in every
            for said in answers_of(self.played, i, self.sellers[i], self.rng(3, i))
        )
        told = replace(self.played.inputs, answers=answers)
        all_seen = self.seen_by(self.played.inputs, every)
        screened = {"all": self.screened(all_seen, every)}
        for way, inputs, computed in (
            ("advert", self.played.inputs, self.unseen),
            ("answers", told, compute(told)),
        ):
            left = [i for i in every if not computed.standing.advice[i]]
            screened[way] = self.screened(self.seen_by(inputs, left), left)
        return screened, all_seen

    def seen_by(self, inputs: computing.Inputs, boats: Collection[int]) -> Computed:
        return compute(replace(inputs, findings=tuple(one for i in boats for one in self.looks[i])))

    def screened(self, computed: Computed, boats: Collection[int]) -> Screened:
        best = int(self.utility.argmax())
        taken = first_of(computed, boats)
        return Screened(
            journeys=len(boats),
            worth=0.0 if taken is None else float(self.utility[taken]),
            lost=bool(self.utility[best] > 0 and best not in boats),
        )

    # --- What follows a survey ---

    def deals(self, before: Computed) -> tuple[dict[str, Dealt], float | None, bool]:
        """By each way, what the survey found more, and whether the seller took all of it off."""
        every = range(len(self.utility))
        i = first_of(before, every)
        if i is None:
            return dict.fromkeys(WAYS, Dealt(0.0, None)), None, False
        found = survey_of(self.played, i, self.rng(4, i))
        inputs = before.inputs
        after = compute(replace(inputs, findings=(*inputs.findings, *found)))
        more = self.cost(after, i).expected.all_in - self.cost(before, i).expected.all_in
        asking = self.played.inputs.boats[i].asking_amount or 0.0
        more = float(np.clip(more, 0.0, MOST_OFF * asking))
        first = first_of(after, every)
        rival = first_of(after, [n for n in every if n != i])
        fees = self.cost(before, i).costing.fees
        lost = fees.survey + fees.survey_lift_out

        def left() -> Dealt:
            return Dealt((0.0 if rival is None else float(self.utility[rival])) - lost, None)

        def bargained(limit: float | None) -> Dealt:
            price = agreed_price(self.sellers[i], self.price[i], more, limit)
            if price is None:
                return left()
            return Dealt(self.worth(i, price), self.price[i] - price)

        limits = self.limits(after, i, rival)
        dealt = {
            "bought unsurveyed": Dealt(float(self.utility[i]), 0.0),
            "take or leave": Dealt(float(self.utility[i]), 0.0) if first == i else left(),
            "bargain": bargained(limits.next_best),
            "bargain, in budget": bargained(limits.walk_away),
        }
        agreed = more > 0 and self.sellers[i].takes(more) <= self.price[i] - more
        return dealt, more, bool(agreed)

    def limits(self, after: Computed, i: int, rival: int | None) -> Limits:
        draws, cost = draws_of(after, i)
        at_price = AtPrice.of(draws, cost.costing.purchase, cost.expected)
        standing = after.standing
        other = 0.0 if rival is None else float(standing.group_utility[rival])
        valuation = float(standing.group_valuation[i])
        return Limits(
            at_price.within(self.budget, after.inputs.brief.required_confidence),
            at_price.at_par(valuation),
            at_price.worth_as_much_as(other, valuation, self.budget, self.penalty),
            valued=True,
        )


def first_of(computed: Computed, boats: Collection[int]) -> int | None:
    """The best of these boats on the board, if she is expected to be worth more than she costs."""
    standing = computed.standing
    first = next((i for i in standing.order if i in boats), None)
    return first if first is not None and standing.group_utility[first] > 0 else None


def true_cost(played: Season, board: Computed, i: int) -> AtPrice:
    """As `bench_decisions.true_worth` has it, at any price."""
    costing = Trial.cost(board, i).costing
    known = np.array(CARE_PRIOR), np.tile(known_levels(played)[i], (3, 1, 1)), costing.work
    seed = (played.inputs.boats[i].id.int ^ 1) % 2**63  # not the board's own draws
    draws = simulate(*known, costing.purchase, seed=seed, draws=computing.DRAWS)
    return AtPrice.of(draws, costing.purchase, expected_costs(*known, costing.purchase))


def play(number: int, world: World) -> Played:
    trial = Trial(number, world)
    screened, all_seen = trial.screens()
    dealt, found, agreed = trial.deals(all_seen)
    boats = len(trial.utility)
    return Played(boats, bool((trial.utility > 0).any()), screened, dealt, found, agreed)


# --- What came of it -----------------------------------------------------------------------------


def said(values: Sequence[float] | Floats, form: str = ",.0f") -> str:
    mean = Mean.of(values)
    return f"{mean.value:{form}} +- {mean.error:{form}}"


def over(seasons: Sequence[Played], of: Callable[[Played], float]) -> list[float]:
    return [of(one) for one in seasons]


def report(seasons: Sequence[Played], world: World) -> None:
    print(
        f"world: {world.name}; {len(seasons)} seasons, {sum(one.boats for one in seasons)} boats;"
    )
    print(f"in {sum(not one.best for one in seasons)} seasons none is worth having")
    print(f"{'visited':10} {'journeys':>14} {'worth of the choice':>20} {'less than all':>18} lost")
    for way in SCREENS:
        journeys = said(over(seasons, lambda one: one.screened[way].journeys), ".2f")  # noqa: B023
        worth = said(over(seasons, lambda one: one.screened[way].worth))  # noqa: B023
        less = said([one.screened["all"].worth - one.screened[way].worth for one in seasons])
        lost = said([one.screened[way].lost for one in seasons if one.best], ".1%")
        print(f"{way:10} {journeys:>14} {worth:>20} {less:>18} {lost}")
    spared = [one.screened["advert"].journeys - one.screened["answers"].journeys for one in seasons]
    gained = [one.screened["answers"].worth - one.screened["advert"].worth for one in seasons]
    print(f"the answers spare {said(spared, '.2f')} journeys more than the adverts alone, and the")
    print(f"choice after them is worth {said(gained)} more")
    surveyed = [one for one in seasons if one.found is not None]
    more = [one for one in surveyed if one.found]
    print(f"surveyed: {len(surveyed)}; more work found on {len(more)}, by")
    print(f"{said([one.found or 0.0 for one in more])} there; the seller takes all of it off in")
    print(said([one.agreed for one in more], ".0%"))
    print(f"{'then':20} {'worth':>18} {'more than unsurveyed':>22} {'taken off':>14} bought")
    for way in WAYS:
        worth = said(over(seasons, lambda one: one.dealt[way].worth))  # noqa: B023
        gain = [one.dealt[way].worth - one.dealt[WAYS[0]].worth for one in seasons]
        off = said([one.dealt[way].off or 0.0 for one in seasons])
        bought = np.mean([one.dealt[way].off is not None for one in surveyed])
        print(f"{way:20} {worth:>18} {said(gain):>22} {off:>14} {bought:.0%}")
    for way in WAYS[2:]:
        gain = [one.dealt[way].worth - one.dealt["take or leave"].worth for one in seasons]
        print(f"{way}: {said(gain)} more than take or leave")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seasons", type=int, default=60)
    parser.add_argument("--first", type=int, default=0, help="number of the first season")
    parser.add_argument("--draws", type=int, default=2048, help="of each boat")
    parser.add_argument("--world", choices=WORLDS, action="append")
    options = parser.parse_args()
    draw_so_many(options.draws)
    for name in options.world or WORLDS:
        started = time.process_time()
        numbers = range(options.first, options.first + options.seasons)
        report([play(number, WORLDS[name]) for number in numbers], WORLDS[name])
        print(f"processor time: {time.process_time() - started:.0f} s")


if __name__ == "__main__":
    main()
