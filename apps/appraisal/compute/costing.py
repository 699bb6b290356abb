"""From the catalogue, the brief and the quotes to the work and the prices of one boat.

Missing facts are named, not guessed: a boat without an asking price, a length or an exchange rate
has no all-in cost.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from apps.appraisal.compute.inputs import BoatInputs, Brief, Inputs
from apps.appraisal.compute.stated import answered_levels, stated_links
from apps.catalogue import content
from apps.catalogue.content import EnablingEntry, RemedyEntry
from apps.catalogue.snapshot import Catalogue
from apps.outcomes.estimates import job_of, more_on, points_of
from apps.outcomes.feeding import ClubExperience
from apps.purchase.facts import LiveQuote
from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.costs import Prices, Purchase, Work
from apps.reckoning.expected import expected_extents
from apps.reckoning.outcomes import with_factors
from apps.reckoning.pricing import (
    CatalogueFee,
    OwnHours,
    PricedJob,
    Pricing,
    QuotedPrice,
    Rates,
    Size,
    price_jobs,
    with_quotes,
)

# Standard deviation of the logarithm of a bill against an estimate or an expired quote: about 15%
# either way. Project's own estimate.
ESTIMATE_LOG_SD = 0.15
# The width of the middle 80% of a normal distribution, in standard deviations.
EIGHTY_PERCENT_WIDE = 2 * 1.2815515655446004


@dataclass(frozen=True, slots=True)
class PurchaseFees:
    """What buying costs beside price and tax, in the list's currency."""

    survey: float
    survey_lift_out: float
    transport: float
    registration: float

    @property
    def total(self) -> float:
        return self.survey + self.survey_lift_out + self.transport + self.registration


@dataclass(frozen=True)
class Jobs:
    """All remedies of the catalogue and their links to checkpoints, in a fixed order.

    area: (J,) each checkpoint's index in `areas`, which are in walking order.
    links: (T,) pairs of checkpoint and remedy, with probability and extent (T, 5).
    """

    areas: tuple[str, ...]
    area: Ints
    remedies: tuple[RemedyEntry, ...]
    enabling: tuple[EnablingEntry, ...]
    needs: Bools
    now: Bools
    link_checkpoint: Ints
    link_remedy: Ints
    link_probability: Floats
    link_extent: Floats

    def extent_on(self, loa_m: float) -> Floats:
        """(T, 5) on a boat of this length; `link_extent` is for a boat of 10 m."""
        more = np.array([more_on(remedy, loa_m) for remedy in self.remedies])
        return more[self.link_remedy, None] * self.link_extent


@dataclass(frozen=True)
class BoatCosting:
    """One boat's prices. `quotes`: by remedy code, the quote that counts.

    stated: (K,) remedies that a surveyor priced, so that they are needed for certain. own: remedies
    that the group does itself. refused: remedies that the group wanted to do but only a
    professional may. beyond_hours: remedies for which the group has no hours left.
    """

    work: Work
    purchase: Purchase
    fees: PurchaseFees
    quotes: Mapping[str, LiveQuote]
    stated: Bools
    own: tuple[str, ...]
    refused: tuple[str, ...]
    beyond_hours: tuple[str, ...]


def jobs_of(catalogue: Catalogue) -> Jobs:
    remedies, enabling = tuple(catalogue.remedies.values()), tuple(catalogue.enabling.values())
    place = {remedy.code: k for k, remedy in enumerate(remedies)}
    links = [
        (j, place[trigger.code], trigger.probability, trigger.extent)
        for j, checkpoint in enumerate(catalogue.checkpoints.values())
        for trigger in checkpoint.remedies
        if trigger.code in place
    ]
    areas = tuple(catalogue.areas)
    return Jobs(
        areas=areas,
        area=np.array([areas.index(c.area) for c in catalogue.checkpoints.values()], dtype=np.intp),
        remedies=remedies,
        enabling=enabling,
        needs=np.array(
            [[work.code in remedy.enabling for work in enabling] for remedy in remedies],
            dtype=np.bool_,
        ).reshape(len(remedies), len(enabling)),
        now=np.array([remedy.urgency == "now" for remedy in remedies], dtype=np.bool_),
        link_checkpoint=np.array([link[0] for link in links], dtype=np.intp),
        link_remedy=np.array([link[1] for link in links], dtype=np.intp),
        link_probability=np.array([link[2] for link in links], dtype=float).reshape(-1, 5),
        link_extent=np.array([link[3] for link in links], dtype=float).reshape(-1, 5),
    )


# --- What is missing ---------------------------------------------------------------------------


def missing_for_cost(boat: BoatInputs, inputs: Inputs) -> tuple[str, ...]:
    """The facts that are needed to price this boat and are missing; empty if none."""
    missing = []
    if boat.offer is not None:
        if inputs.brief.in_own_currency(boat.offer.amount, boat.offer.currency) is None:
            missing.append(f"exchange_rate:{boat.offer.currency}")
    elif boat.asking_amount is None:
        missing.append("asking_price")
    elif inputs.brief.in_own_currency(boat.asking_amount, boat.asking_currency) is None:
        missing.append(f"exchange_rate:{boat.asking_currency}")
    if boat.loa_m is None:
        missing.append("loa_m")
    catalogue_currency = inputs.snapshot.catalogue.money.basis.currency
    if inputs.brief.in_own_currency(1.0, catalogue_currency) is None:
        missing.append(f"exchange_rate:{catalogue_currency}")
    return tuple(dict.fromkeys(missing))


def rates_of(inputs: Inputs) -> Rates:
    """Raises ValueError for an exchange rate that `missing_for_cost` names."""
    return rates_under(inputs.brief, inputs.snapshot.catalogue)


def rates_under(brief: Brief, catalogue: Catalogue) -> Rates:
    """The same from a brief. Raises ValueError if it has no rate for the catalogue's currency."""
    return Rates(
        yard_hour=max(brief.yard_hourly_rate, 0.01),
        price_index=catalogue.money.price_ratio(brief.price_year),
        currency=brief.in_own_currency(1.0, catalogue.money.basis.currency) or 0.0,
    )


# --- One boat ------------------------------------------------------------------------------------


def cost_of(
    boat: BoatInputs, inputs: Inputs, jobs: Jobs, care: Floats, level_given_care: Floats
) -> BoatCosting:
    """Prices for a boat of which nothing is missing (`missing_for_cost`).

    care (K, 3), level_given_care (K, 3, J, 5): the belief. It gives the hours that each remedy is
    expected to take of the group's own.
    """
    rates = rates_of(inputs)
    quotes = usable_quotes(boat, inputs)
    purchase, fees = purchase_of(boat, inputs.brief)
    size = Size(
        loa_m=boat.loa_m or 0.0,
        displacement_kg=boat.numbers.get("displacement_kg"),
        price=usual_price(boat, inputs.brief) / rates.money,
    )
    enabling = price_jobs([job_of(work) for work in jobs.enabling], size, rates).prices
    remedies = [_job(remedy.on(boat.built_of)) for remedy in jobs.remedies]
    own = OwnHours(inputs.brief.own_remedies, inputs.brief.own_hours, inputs.brief.own_hour_value)
    codes, applies = _links(jobs, inputs, level_given_care)
    links = stated_links(boat.id, inputs, quotes, codes, applies)
    answered = answered_levels(boat.id, inputs, codes, links)

    def work_at(pricing: Pricing) -> Work:
        prices = _as_bills_came(pricing, jobs, inputs.experience)
        quoted = _quoted(prices, jobs, quotes, inputs.brief)
        work = _work(jobs, jobs.extent_on(size.loa_m), quoted, enabling, quotes)
        return work.calling(links).silenced(answered)

    pricing = price_jobs(remedies, size, rates)
    if own.codes and own.hours:
        expected = expected_extents(care, level_given_care, work_at(pricing))
        # A quote is a yard's price: the group does not do that job itself.
        own = OwnHours(tuple(c for c in own.codes if c not in quotes), own.hours, own.hour_value)
        pricing = price_jobs(remedies, size, rates, own, expected_extent=expected)
    return BoatCosting(
        work=work_at(pricing),
        purchase=purchase,
        fees=fees,
        quotes=quotes,
        stated=np.isin(np.arange(len(jobs.remedies)), jobs.link_remedy[links]),
        own=tuple(r.code for r, own in zip(jobs.remedies, pricing.own, strict=True) if own),
        refused=pricing.refused,
        beyond_hours=pricing.beyond_hours,
    )


def _links(jobs: Jobs, inputs: Inputs, level: Floats) -> tuple[list[tuple[str, str]], Bools]:
    """(T,) codes of checkpoint and remedy, and whether the boat has what the former is about."""
    checkpoints = tuple(inputs.snapshot.catalogue.checkpoints)
    codes = [
        (checkpoints[j], jobs.remedies[k].code)
        for j, k in zip(jobs.link_checkpoint, jobs.link_remedy, strict=True)
    ]
    applies: Bools = np.any(level, axis=(*range(level.ndim - 2), level.ndim - 1))
    return codes, applies[jobs.link_checkpoint]


def purchase_of(boat: BoatInputs, brief: Brief) -> tuple[Purchase, PurchaseFees]:
    """The price part of the all-in cost, and each purchase cost.

    A live offer is the price, for certain.
    """
    fees = PurchaseFees(
        survey=max(brief.survey_fee_per_m * (boat.loa_m or 0.0), brief.survey_fee_minimum),
        survey_lift_out=brief.survey_lift_out,
        transport=brief.transport,
        registration=brief.registration,
    )
    offered = offer_of(boat, brief)
    certain = offered is not None
    purchase = Purchase(
        asking=asking_of(boat, brief) if offered is None else offered,
        expected_share=1.0 if certain else brief.expected_price_share,
        share_sd=0.0 if certain else brief.expected_price_share_sd,
        fixed=fees.total,
        tax_rate=brief.tax_rate,
        reserve_rate=brief.reserve_rate,
    )
    return purchase, fees


def offer_of(boat: BoatInputs, brief: Brief) -> float | None:
    """The live offer in the list's currency; None without one, or without an exchange rate."""
    offer = boat.offer
    return None if offer is None else brief.in_own_currency(offer.amount, offer.currency)


def asking_of(boat: BoatInputs, brief: Brief) -> float:
    """The asking price in the list's currency; 0 if it is not known, or without a rate."""
    return brief.in_own_currency(boat.asking_amount or 0.0, boat.asking_currency) or 0.0


def usual_price(boat: BoatInputs, brief: Brief) -> float:
    """The price that is expected without an offer; the offer if no asking price is known.

    Work whose cost goes with the boat's price goes by it: an offer does not change the boat.
    """
    usual = asking_of(boat, brief) * brief.expected_price_share
    return usual or offer_of(boat, brief) or 0.0


def usable_quotes(boat: BoatInputs, inputs: Inputs) -> dict[str, LiveQuote]:
    """By remedy; a quote in a currency without a rate in the brief cannot be used."""
    return {
        quote.remedy: quote
        for quote in inputs.quotes
        if quote.candidate_id == boat.id
        and inputs.brief.in_own_currency(quote.amount, quote.currency) is not None
    }


def _job(entry: RemedyEntry) -> PricedJob:
    """The remedy with its own-work rules: yard hours, or the group's hours where it may do it."""
    return replace(job_of(entry), own_work=entry.own_work, own_hours_factor=entry.own_hours_factor)


def fees_of(costs: Mapping[str, content.FeeEntry]) -> list[CatalogueFee]:
    return [CatalogueFee(fee.code, points_of(fee.cost), fee.per) for fee in costs.values()]


def _as_bills_came(pricing: Pricing, jobs: Jobs, experience: ClubExperience | None) -> Prices:
    """Trade prices adjusted by the club's bills; own work is on no bill."""
    if experience is None or not experience.factors:
        return pricing.prices
    factors = [experience.factors.get(remedy.code) for remedy in jobs.remedies]
    return with_factors(
        pricing.prices,
        np.where(pricing.own, 1.0, [one.cost.median if one else 1.0 for one in factors]),
        np.where(pricing.own, 1.0, [one.cost.spread if one else 1.0 for one in factors]),
    )


def _quoted(prices: Prices, jobs: Jobs, quotes: Mapping[str, LiveQuote], brief: Brief) -> Prices:
    known = {}
    for k, remedy in enumerate(jobs.remedies):
        if quote := quotes.get(remedy.code):
            amount = brief.in_own_currency(quote.amount, quote.currency) or 0.0
            known[k] = QuotedPrice(amount, quote_log_sd(quote))
    return with_quotes(prices, known)


def quote_log_sd(quote: LiveQuote) -> float:
    """How far the bill may stray. A surveyor's range holds four bills in five, as `ESTIMATE_LOG_SD`
    says of yards, and is never surer than a yard's estimate. Project's own choice.
    """
    if quote.fixed and not quote.expired:
        return 0.0
    if quote.low is None or quote.high is None:
        return ESTIMATE_LOG_SD
    return max(ESTIMATE_LOG_SD, math.log(quote.high / quote.low) / EIGHTY_PERCENT_WIDE)


def _work(
    jobs: Jobs,
    extent: Floats,
    remedies: Prices,
    enabling: Prices,
    quotes: Mapping[str, LiveQuote],
) -> Work:
    needs = jobs.needs.copy()
    for k, remedy in enumerate(jobs.remedies):
        if remedy.code in quotes and quotes[remedy.code].includes_enabling:
            needs[k] = False
    return Work(
        remedies=remedies,
        enabling=enabling,
        needs=needs,
        now=jobs.now,
        link_checkpoint=jobs.link_checkpoint,
        link_remedy=jobs.link_remedy,
        link_probability=jobs.link_probability,
        link_extent=extent,
    )
