"""What it costs to have the boat: the start, each year, and the years together in today's money."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from apps.appraisal.compute.inputs import Brief
from apps.appraisal.stored.candidates import StoredRollup
from apps.ownership.season.planning import SeasonPlan, cents, shared
from apps.ownership.season.work import State, WorkList
from apps.reckoning.ownership import cost_of_ownership


@dataclass(frozen=True)
class StartLine:
    """A part of what it takes to begin: price, tax, purchase_costs, paid, planned, perhaps."""

    code: str
    amount: Decimal


@dataclass(frozen=True)
class YearLine:
    """year: 0 for the start. amount: due at the end of the year, less the resale in the last one.
    present: the same in today's money."""

    year: int
    amount: Decimal
    present: Decimal


@dataclass(frozen=True)
class Years:
    """The cost over the years for one resale price: in all, as one equal sum a year, by buyer."""

    resale: Decimal
    total: Decimal
    a_year: Decimal
    by_buyer: Mapping[uuid.UUID, Decimal]
    years: tuple[YearLine, ...]


@dataclass(frozen=True)
class Keeping:
    """cases: for the resale price that the group expects, or else for none and the price paid."""

    years: int
    discount_rate: float
    start: tuple[StartLine, ...]
    running_year: Decimal
    cases: tuple[Years, ...]


def keeping_of(
    rollup: StoredRollup,
    work: WorkList,
    plan: SeasonPlan,
    brief: Brief,
    *,
    price: float | None,
    resale: Decimal | None,
    shares: Mapping[uuid.UUID, Decimal],
) -> Keeping | None:
    """price: as on the bill of sale, in the list's currency; None: as expected. None is returned
    for a boat that cannot be priced."""
    parts, running = rollup.get("parts"), rollup.get("running_year")
    if parts is None or running is None:
        return None
    paid_for_her = float(parts["price"]["amount"]) if price is None else price
    start = {
        "price": paid_for_her,
        "tax": float(parts["tax"]["amount"]),
        "purchase_costs": float(parts["purchase_costs"]["amount"]),
        "paid": sum(one.paid or 0.0 for one in work.items),
        "planned": float(plan.cost),
        "perhaps": sum(one.expected for one in work.items if one.state == State.PERHAPS),
    }
    year = float(running["expected"]["amount"])
    expected = [0.0, paid_for_her] if resale is None else [float(resale)]
    begin = sum(start.values())
    return Keeping(
        years=brief.years_kept,
        discount_rate=brief.discount_rate,
        start=tuple(StartLine(code, money(amount)) for code, amount in start.items()),
        running_year=money(year),
        cases=tuple(_years(begin, year, one, brief, shares) for one in expected),
    )


def _years(
    begin: float, year: float, resale: float, brief: Brief, shares: Mapping[uuid.UUID, Decimal]
) -> Years:
    rate, count = brief.discount_rate, brief.years_kept
    figures = cost_of_ownership(begin, year, years=count, discount_rate=rate, resale=resale)
    flows = [begin, *[year] * count]
    flows[-1] -= resale
    return Years(
        resale=money(resale),
        total=money(figures.total),
        a_year=money(figures.yearly),
        by_buyer=shared(cents(figures.total), shares),
        years=tuple(
            YearLine(n, money(flow), money(flow / (1 + rate) ** n)) for n, flow in enumerate(flows)
        ),
    )


def money(amount: float) -> Decimal:
    return Decimal(cents(amount)) / 100
