"""What to offer for one candidate: the prices at which the buyers' answer changes.

The price paid is a decision here, not a draw. All else of the cost stays as drawn, so each draw's
cost is a straight line in the price: rest + rate * price, where the rate is 1 plus the tax and the
reserve. Hence the highest price that stays within the budget with a given chance is an order
statistic of the draws, exactly; the price at which the expected surplus is nought follows from
exact means; and the price at which she is worth no more than the next best candidate is the root
of a falling function. Work whose price grows with the boat's price stays as it is: an offer changes
what is paid for her, not what she is.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Floats
from apps.reckoning.expected import Expected
from apps.reckoning.repricing import last_within
from apps.reckoning.simulation import Draws, Singles, yard_factor
from apps.reckoning.utility import Cost
from apps.reckoning.work import MOST_OFF, Purchase, Work, require


@dataclass(frozen=True, slots=True, eq=False)
class AtPrice:
    """A candidate's cost at any price paid for her, in the list's currency.

    rest: the cost at price 0, (D,) draws and exact means. rate: cost for one unit of price more.
    """

    rest: Cost
    rate: float

    @classmethod
    def of(cls, draws: Draws, purchase: Purchase, expected: Expected) -> "AtPrice":
        """The same draws with the price, its tax and the reserve taken out."""
        paid = 1 + purchase.tax_rate
        out, mean_out = draws.price * paid + purchase.reserve, expected.price * paid
        mean_out += purchase.reserve
        rest = Cost(
            upfront=draws.upfront - out,
            all_in=draws.all_in - out,
            mean_upfront=expected.upfront - mean_out,
            mean_all_in=expected.all_in - mean_out,
        )
        return cls(rest, paid + purchase.reserve_rate)

    def cost(self, price: float) -> Cost:
        return self.rest.dearer(self.rate * price)

    def chance_within(self, price: float, budget: float) -> float:
        """P(cost before she sails <= budget) at this price."""
        return float((self.rest.upfront + self.rate * price <= budget).mean())

    def within(self, budget: float, confidence: float) -> float | None:
        """The highest price that stays within the budget with at least this chance.

        None if no price of 0 or more does. Raises ValueError unless 0 < confidence <= 1.
        """
        require(0 < confidence <= 1, "confidence", f"{confidence} is not in 0..1, 0 excluded")
        room = budget - self.rest.upfront
        return last_within(room, np.full(len(room), self.rate), confidence, None)

    def at_par(self, valuation: float) -> float | None:
        """The price at which the expected surplus, valuation - all-in, is nought; None below 0."""
        price = (valuation - self.rest.mean_all_in) / self.rate
        return price if price >= 0 else None

    def worth_as_much_as(
        self, other: float, valuation: float, budget: float, penalty: float
    ) -> float | None:
        """The price at which she is worth no more than the alternative: E[U(price)] = other.

        other: E[U] of the next best candidate, or 0 for none. penalty: see utility. None if she is
        worth less at any price of 0 or more.
        """

        def lead(price: float) -> float:
            return valuation - self.cost(price).regretted(budget, penalty).mean - other

        if lead(0.0) < 0:
            return None
        # E[U] falls by at least the rate for each unit of price.
        return float(scipy.optimize.brentq(lead, 0.0, lead(0.0) / self.rate + 1, xtol=0.005))


@dataclass(frozen=True, slots=True)
class Limits:
    """Prices beyond which the buyers' answer changes; None if even a gift would be beyond it.

    within_budget: see `AtPrice.within`. at_par: surplus nought. next_best: no better than the next
    best; both None too where nobody valued her (`valued` False).
    """

    within_budget: float | None
    at_par: float | None
    next_best: float | None
    valued: bool

    @property
    def walk_away(self) -> float | None:
        """The lowest of the limits that are known; None if a limit leaves no price."""
        own = [self.at_par, self.next_best] if self.valued else []
        known = [limit for limit in (self.within_budget, *own) if limit is not None]
        return min(known) if len(known) == 1 + len(own) else None


@dataclass(frozen=True, slots=True)
class Plan:
    """Prices of a negotiation: opening <= target <= walk_away.

    out_of_reach: whether the walk-away price is further below the asking price than anybody would
    ask of a seller (MOST_OFF).
    """

    opening: float
    target: float
    walk_away: float
    out_of_reach: bool


def plan_of(walk_away: float, purchase: Purchase) -> Plan:
    """Where to open, what to aim at and where to stop.

    target: the price that the list expects to pay, at most the walk-away price. opening: as far
    below the target as the asking price is above it, so that meeting halfway ends there (common
    practice, no source); at most MOST_OFF below the asking price, and never above the target.
    """
    target = min(purchase.expected_price, walk_away)
    lowest = (1 - MOST_OFF) * purchase.asking
    opening = min(max(2 * target - purchase.asking, lowest), target)
    return Plan(opening, target, walk_away, walk_away < lowest)


# --- What moves the price within the budget ------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """The highest price within the budget if one thing were different; None: no price is.

    more_work: 1,000 more of work before she sails, at the list's confidence. by_confidence: by the
    chance of staying within the budget. dearer_yard, cheaper_yard: a yard rate a tenth higher or
    lower.
    """

    more_work: float | None
    by_confidence: dict[float, float | None]
    dearer_yard: float | None
    cheaper_yard: float | None


MORE_WORK = 1000.0
YARD_STEP = 0.10
CONFIDENCES = (0.5, 0.7, 0.8, 0.9, 0.95)


def sensitivity(
    at_price: AtPrice, draws: Draws, work: Work, budget: float, confidence: float
) -> Sensitivity:
    """draws, work: of the same candidate."""
    labour = yard_labour_now(draws, work)

    def with_more(more: Floats | float) -> float | None:
        rest = at_price.rest
        moved = Cost(rest.upfront + more, rest.all_in, rest.mean_upfront, rest.mean_all_in)
        return AtPrice(moved, at_price.rate).within(budget, confidence)

    chances = sorted({*CONFIDENCES, confidence})
    return Sensitivity(
        more_work=with_more(MORE_WORK),
        by_confidence={chance: at_price.within(budget, chance) for chance in chances},
        dearer_yard=with_more(YARD_STEP * labour),
        cheaper_yard=with_more(-YARD_STEP * labour),
    )


def yard_labour_now(draws: Draws, work: Work) -> Floats:
    """The part of the cost of work that cannot wait that moves with the yard's rate, (D,)."""
    factor = yard_factor(draws)
    remedies = _labour(draws.remedy_price[work.now], work.remedies.yard_share[work.now], factor)
    enabling = _labour(draws.enabling_price, work.enabling.yard_share, factor)
    total: Floats = np.einsum("kd,kd->d", remedies, draws.extent[work.now], dtype=float)
    total += np.einsum("kd,kd->d", enabling, draws.needed_now, dtype=float)
    return total


def _labour(price: Singles, share: Floats, factor: Singles) -> Singles:
    """Of prices (P, D) with the factor (D,) on their labour, the part that is labour."""
    labour = share.astype(np.float32)[:, None] * factor
    part: Singles = price * labour / (labour + 1 - share.astype(np.float32)[:, None])
    return part
