"""Compares what was paid for a remedy with the catalogue's estimate for the boat."""

import math
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from apps.catalogue.content import EnablingEntry, RemedyEntry, ThreePoints
from apps.catalogue.snapshot import Catalogue
from apps.outcomes.gathering import Shared, SharedBoat
from apps.purchase.facts import LiveBill
from apps.reckoning.outcomes import FURTHEST
from apps.reckoning.pricing import REFERENCE_LOA_M, PricedJob, Rates, Size, ThreePoint, price_jobs

# The power of the boat's length by which counted parts (square feet of deck, fittings, ports)
# increase: like areas. This project's own estimate.
COUNTS_GROW = 2.0


@dataclass(frozen=True)
class Paid:
    """The logarithm of what was paid to the trade for a remedy over its estimate.

    bills: the content of each, to detect changes.
    """

    boat: SharedBoat
    remedy: str
    dated_on: date
    bills: tuple[str, ...]
    log_ratio: float


def bills_against_estimates(shared: Shared) -> Iterator[Paid]:
    """Bills that can be compared with an estimate; several for one remedy and boat are summed.

    Left out: own work, because no bill has its hours; bills of zero; boats without a length;
    currencies for which the brief has no rate.
    """
    levels = _levels_found(shared)
    bills: dict[tuple[uuid.UUID, str], list[LiveBill]] = {}
    for bill in shared.bills:
        if not bill.own and bill.remedy in shared.snapshot.catalogue.remedies:
            bills.setdefault((bill.candidate_id, bill.remedy), []).append(bill)
    for (candidate_id, remedy), together in sorted(bills.items(), key=lambda one: one[0]):
        boat = shared.boats[candidate_id]
        paid = _paid(boat, together)
        estimate = estimate_of(
            boat,
            shared.snapshot.catalogue,
            remedy,
            levels=levels.get(candidate_id, {}),
            year=together[-1].dated_on.year,
            with_enabling=any(bill.includes_enabling for bill in together),
        )
        if paid and estimate:
            ratio = math.log(paid / estimate)
            yield Paid(
                boat=boat,
                remedy=remedy,
                dated_on=together[-1].dated_on,
                bills=tuple(repr(bill) for bill in together),
                log_ratio=max(-FURTHEST, min(FURTHEST, ratio)),
            )


def estimate_of(
    boat: SharedBoat,
    catalogue: Catalogue,
    code: str,
    *,
    levels: Mapping[str, int],
    year: int,
    with_enabling: bool,
) -> float | None:
    """Expected cost at the levels found, in the list's currency; None if it cannot be known.

    Labour is at the brief's yard rate and parts in money of the bill's year, both scaled to the
    boat, for the extent that the levels require, or once if no level requires any.
    """
    loa_m, currency = boat.numbers.get("loa_m"), _rate(boat, catalogue.money.basis.currency)
    if loa_m is None or currency is None:
        return None
    remedy = catalogue.remedies[code].on(boat.built_of)
    if remedy.by_price:  # the price she was bought for is not recorded
        return None
    rates = Rates(
        yard_hour=max(_yard_hour(boat, catalogue, currency), 0.01),
        price_index=catalogue.money.price_ratio(year),
        currency=currency,
    )
    size = Size(loa_m, boat.numbers.get("displacement_kg"))
    works = [catalogue.enabling[one] for one in remedy.enabling] if with_enabling else []
    price, *enabling = price_jobs([job_of(remedy), *map(job_of, works)], size, rates).prices.mean
    extent = extent_at(catalogue, code, levels) * more_on(remedy, loa_m)
    return float(price * extent + sum(enabling)) or None


def _yard_hour(boat: SharedBoat, catalogue: Catalogue, currency: float) -> float:
    """The brief's yard hour, or else the catalogue's, in the list's currency."""
    stated = boat.list.yard_hourly_rate
    return catalogue.money.yard_rate.likely * currency if stated is None else float(stated)


def extent_at(catalogue: Catalogue, code: str, levels: Mapping[str, int]) -> float:
    """The largest extent of a remedy that any checkpoint's level requires; 1 if none does."""
    asked = [
        trigger.extent[levels[checkpoint]]
        for checkpoint in levels
        if checkpoint in catalogue.checkpoints
        for trigger in catalogue.checkpoints[checkpoint].remedies
        if trigger.code == code and trigger.probability[levels[checkpoint]] > 0
    ]
    return max(asked, default=0.0) or 1.0


def more_on(remedy: RemedyEntry, loa_m: float) -> float:
    """The factor on a remedy's counted parts for a boat of this length, relative to 10 m."""
    return (loa_m / REFERENCE_LOA_M) ** COUNTS_GROW if remedy.count else 1.0


def job_of(entry: RemedyEntry | EnablingEntry) -> PricedJob:
    """A remedy or enabling work as a job at yard prices."""
    if isinstance(entry, RemedyEntry) and entry.by_price:
        return PricedJob(entry.code, points_of(entry.hours), points_of(entry.parts), "price")
    return PricedJob(
        code=entry.code,
        hours=points_of(entry.hours),
        parts=points_of(entry.parts),
        scale_by="loa" if entry.loa_exponent else "none",
        scale_exponent=entry.loa_exponent,
    )


def points_of(points: ThreePoints) -> ThreePoint:
    return points.low, points.likely, points.high


def _rate(boat: SharedBoat, currency: str) -> float | None:
    """The value of one unit of a currency in the list's own."""
    if currency == boat.list.currency:
        return 1.0
    rate = boat.list.exchange_rates.get(currency)
    return None if rate is None else float(rate)


def _paid(boat: SharedBoat, bills: list[LiveBill]) -> float | None:
    amounts = [(bill.amount, _rate(boat, bill.currency)) for bill in bills]
    if any(rate is None for _, rate in amounts):
        return None
    return sum(amount * (rate or 0.0) for amount, rate in amounts)


def _levels_found(shared: Shared) -> dict[uuid.UUID, dict[str, int]]:
    found: dict[uuid.UUID, dict[str, int]] = {}
    for one in shared.surveyed:
        found.setdefault(one.boat.id, {})[one.checkpoint] = one.level
    return found
