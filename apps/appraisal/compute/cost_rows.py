"""The cost of one candidate as it is stored: its parts, its causes and its spread."""

from collections.abc import Iterable

import numpy as np

from apps.appraisal.compute.computing import BoatCost, Computed
from apps.appraisal.compute.costing import PurchaseFees, fees_of, rates_of
from apps.appraisal.compute.inputs import BoatInputs, Inputs
from apps.appraisal.figures import as_amount, chance, estimate
from apps.appraisal.stored.candidates import (
    AreaCost,
    Assumed,
    BuyerCost,
    Causes,
    Driver,
    EnablingCost,
    FactorUsed,
    KeepingCosts,
    OverYears,
    PriceIndexYear,
    PurchaseCost,
    QuoteUsed,
    RemedyCost,
    StoredOwnership,
    StoredParts,
    StoredRollup,
    YearRange,
)
from apps.outcomes.feeding import ClubExperience
from apps.purchase.facts import LiveQuote
from apps.reckoning.ownership import YearlyCost, by_share, cost_of_ownership, running_cost
from apps.reckoning.pricing import Size
from apps.reckoning.rollup import CostParts

DRIVERS = 10
# A remedy whose expected cost rounds to zero gets no line.
LEAST_SHOWN = 1.0


def rollups_of(computed: Computed) -> list[StoredRollup]:
    """One for each boat, in order; for a boat that cannot be priced, the missing facts."""
    return [
        not_priced(computed, i) if cost is None else priced(computed, i, cost)
        for i, cost in enumerate(computed.costs)
    ]


def not_priced(computed: Computed, i: int) -> StoredRollup:
    return {"currency": computed.inputs.brief.currency, "missing": list(computed.missing[i])}


def priced(computed: Computed, i: int, cost: BoatCost) -> StoredRollup:
    currency, brief = computed.inputs.brief.currency, computed.inputs.brief
    figures, boat = cost.rollup, computed.inputs.boats[i]
    return {
        "currency": currency,
        "missing": [],
        "assumed": assumptions(computed, i, cost),
        "upfront": estimate(figures.upfront, currency),
        "later": estimate(figures.later, currency),
        "all_in": estimate(figures.all_in, currency),
        "work": estimate(figures.work, currency),
        "budget": as_amount(brief.budget, currency),
        "within_budget": chance(figures.within_budget),
        "parts": parts(figures.parts, currency),
        "purchase_costs": purchase_costs(cost.costing.fees, currency),
        "by_area": by_area(computed, cost),
        "by_cause": by_cause(figures.by_cause, currency),
        "drivers": drivers(computed, cost),
        "remedies": remedies(computed, cost),
        "enabling": enabling(computed, cost),
        "quotes": [quote(one) for one in cost.costing.quotes.values()],
        **keeping(computed, boat, cost),
    }


def parts(figures: CostParts, currency: str) -> StoredParts:
    return {
        "price": as_amount(figures.price, currency),
        "tax": as_amount(figures.tax, currency),
        "purchase_costs": as_amount(figures.purchase_costs, currency),
        "enabling": as_amount(figures.enabling, currency),
        "now": as_amount(figures.now, currency),
        "later": as_amount(figures.later, currency),
        "enabling_later": as_amount(figures.enabling_later, currency),
        "reserve": as_amount(figures.reserve, currency),
    }


def purchase_costs(fees: PurchaseFees, currency: str) -> list[PurchaseCost]:
    return [
        {"code": "survey", "amount": as_amount(fees.survey, currency)},
        {"code": "survey_lift_out", "amount": as_amount(fees.survey_lift_out, currency)},
        {"code": "transport", "amount": as_amount(fees.transport, currency)},
        {"code": "registration", "amount": as_amount(fees.registration, currency)},
    ]


def by_cause(amounts: Iterable[float], currency: str) -> Causes:
    """amounts: in the order of `CAUSES`."""
    seen, disputed, not_seen = (as_amount(float(amount), currency) for amount in amounts)
    return {"seen": seen, "disputed": disputed, "not_seen": not_seen}


def assumptions(computed: Computed, i: int, cost: BoatCost) -> list[Assumed]:
    """Facts that had to be assumed, by code, so that nobody takes them for known."""
    assumed: list[Assumed] = []
    assumed += [
        {"code": "age_unknown", "part": age.part, "years": round(age.years)}
        for age in computed.arrays.ages_on(i)
        if not age.known
    ]
    assumed += price_index_year(computed.inputs)
    assumed += [{"code": "own_work_refused", "remedy": code} for code in cost.costing.refused]
    assumed += [{"code": "own_hours_used_up", "remedy": code} for code in cost.costing.beyond_hours]
    return assumed


def price_index_year(inputs: Inputs) -> list[PriceIndexYear]:
    """Given if the price index lacks the brief's year: the year used, and the rate by which prices
    are carried forward from it.
    """
    wanted, prices = inputs.brief.price_year, inputs.snapshot.catalogue.money
    year = prices.indexed(wanted)
    if year == wanted:
        return []
    rate = prices.last_rate if wanted > year else 0.0
    return [
        {
            "code": "price_index_year",
            "year": year,
            "carried_to": wanted,
            "rate": round(float(rate), 4),
        }
    ]


def by_area(computed: Computed, cost: BoatCost) -> list[AreaCost]:
    currency, figures = computed.inputs.brief.currency, cost.rollup
    titles = computed.inputs.snapshot.catalogue.areas
    return [
        {
            "area": code,
            "title": titles[code].title,
            "expected": as_amount(float(causes.sum()), currency),
            "later": as_amount(float(later.sum()), currency),
            **by_cause(causes, currency),
        }
        for code, causes, later in zip(
            computed.jobs.areas,
            figures.by_area_and_cause,
            figures.later_by_area_and_cause,
            strict=False,
        )
        if causes.sum() >= LEAST_SHOWN
    ]


def drivers(computed: Computed, cost: BoatCost) -> list[Driver]:
    """The remedies with the highest cost, and those with the largest share of the variance.

    Each includes its share of the enabling work. Remedies, because people pay for work, not for
    checkpoints.
    """
    figures, currency = cost.rollup, computed.inputs.brief.currency
    most = dict.fromkeys([*figures.drivers(DRIVERS), *figures.drivers_of_doubt(DRIVERS)])
    return [
        {
            "remedy": remedy.code,
            "title": remedy.title,
            "expected": as_amount(figures.remedy_with_enabling[k], currency),
            "share_of_doubt": chance(figures.remedy_share[k]),
        }
        for k in sorted(most, key=lambda k: -figures.remedy_with_enabling[k])
        for remedy in [computed.jobs.remedies[k]]
    ]


def remedies(computed: Computed, cost: BoatCost) -> list[RemedyCost]:
    figures, currency = cost.rollup, computed.inputs.brief.currency
    prices = cost.costing.work.remedies
    experience = computed.inputs.experience
    own = set(cost.costing.own)
    order = np.argsort(-figures.remedy_cost, kind="stable")
    return [
        {
            "remedy": remedy.code,
            "title": remedy.title,
            "area": remedy.area,
            "probability": chance(figures.remedy_needed[k]),
            "expected": as_amount(figures.remedy_cost[k], currency),
            "price": as_amount(prices.mean[k], currency),
            "counted_by": remedy.count,
            "urgency": remedy.urgency,
            "done_by": "group" if remedy.code in own else "yard",
            "quoted": bool(prices.quoted[k]),
            "club_outcomes": None
            if prices.quoted[k] or remedy.code in own
            else factor_serialized(experience, remedy.code),
            "confidence": remedy.confidence,
            "source": remedy.source,
        }
        for k in order
        if figures.remedy_cost[k] >= LEAST_SHOWN
        for remedy in [computed.jobs.remedies[k]]
    ]


def factor_serialized(experience: ClubExperience | None, code: str) -> FactorUsed | None:
    """The factor that bills in the club put on the catalogue's price."""
    factor = experience.factors.get(code) if experience else None
    if factor is None:
        return None
    return {
        "factor": round(float(factor.cost.median), 2),
        "groups": factor.groups,
        "boats": factor.boats,
    }


def enabling(computed: Computed, cost: BoatCost) -> list[EnablingCost]:
    figures, currency = cost.rollup, computed.inputs.brief.currency
    return [
        {
            "enabling": work.code,
            "title": work.title,
            "probability": chance(figures.enabling_needed[m]),
            "expected": as_amount(figures.enabling_cost[m], currency),
        }
        for m, work in enumerate(computed.jobs.enabling)
        if figures.enabling_cost[m] >= LEAST_SHOWN
    ]


def quote(one: LiveQuote) -> QuoteUsed:
    return {
        "quote_id": str(one.id),
        "remedy": one.remedy,
        "amount": as_amount(one.amount, one.currency),
        "firmness": one.firmness,
        "includes_enabling": one.includes_enabling,
        "from_whom": one.from_whom,
        "dated_on": one.dated_on.isoformat(),
        "expired": one.expired,
    }


# --- Keeping her ---------------------------------------------------------------------------------


def keeping(computed: Computed, boat: BoatInputs, cost: BoatCost) -> KeepingCosts:
    """Running cost of a year, cost over the years of ownership, and each buyer's part."""
    inputs, currency = computed.inputs, computed.inputs.brief.currency
    lines = inputs.snapshot.catalogue.running
    year = running_cost(
        fees_of(lines),
        Size(boat.loa_m or 0.0, boat.numbers.get("displacement_kg")),
        rates_of(inputs),
        value=cost.rollup.parts.price,
    )
    return {
        "running_year": {
            **range_of(year, currency),
            "lines": [
                {
                    "code": code,
                    "title": line.title,
                    "expected": as_amount(float(amount), currency),
                    "source": line.source,
                }
                for (code, line), amount in zip(lines.items(), year.expected, strict=True)
            ],
        },
        "ownership": ownership(computed, cost, year),
        "per_buyer": per_buyer(computed, cost, year),
    }


def range_of(year: YearlyCost, currency: str) -> YearRange:
    return {
        "low": as_amount(year.low, currency),
        "likely": as_amount(year.likely, currency),
        "high": as_amount(year.high, currency),
        "expected": as_amount(year.mean, currency),
    }


def ownership(computed: Computed, cost: BoatCost, year: YearlyCost) -> StoredOwnership:
    """In today's money. The resale price is unknown, so both ends are shown."""
    brief = computed.inputs.brief

    def over_years(resale: float) -> OverYears:
        figures = cost_of_ownership(
            cost.rollup.all_in.mean,
            year.mean,
            years=brief.years_kept,
            discount_rate=brief.discount_rate,
            resale=resale,
        )
        return {
            "total": as_amount(figures.total, brief.currency),
            "a_year": as_amount(figures.yearly, brief.currency),
        }

    return {
        "years": brief.years_kept,
        "discount_rate": brief.discount_rate,
        "if_worth_nothing_then": over_years(0.0),
        "if_sold_for_the_price_paid": over_years(cost.rollup.parts.price),
    }


def per_buyer(computed: Computed, cost: BoatCost, year: YearlyCost) -> list[BuyerCost]:
    buyers, currency = computed.inputs.buyers, computed.inputs.brief.currency
    shares = [buyer.share for buyer in buyers]
    if not shares:
        return []
    upfront = by_share(cost.rollup.upfront.mean, shares)
    later = by_share(cost.rollup.later.mean, shares)
    expected = by_share(cost.rollup.all_in.mean, shares)
    high = by_share(cost.rollup.all_in.high, shares)
    running = by_share(year.mean, shares)
    return [
        {
            "person_id": str(buyer.person_id),
            "share": round(buyer.share, 6),
            "upfront": as_amount(upfront[b], currency),
            "later": as_amount(later[b], currency),
            "expected": as_amount(expected[b], currency),
            "high": as_amount(high[b], currency),
            "running_year": as_amount(running[b], currency),
        }
        for b, buyer in enumerate(buyers)
    ]
