"""From a catalogue's hours and parts to prices for one boat, here and now.

A job is known for a boat of 10 m in a base year's money. Labour is hours at the yard's present
rate; parts move with the price index and the currency; both grow with the boat by the job's scale.
Jobs that the group does itself cost the group's own hours, at the group's own hourly value; the
yard's rate does not affect them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.work import Prices, require

REFERENCE_LOA_M = 10.0
# Of a cruising boat of 10 m; project's own estimate. Only its ratio to the boat's own matters.
REFERENCE_DISPLACEMENT_KG = 5000.0
# In the catalogue's money: price of the reference boat for jobs that scale with the boat's price.
REFERENCE_PRICE = 10_000.0

ScaleBy = Literal["loa", "displacement", "price", "none"]

ThreePoint = tuple[float, float, float]  # low, likely, high


@dataclass(frozen=True, slots=True)
class PricedJob:
    """A remedy or enabling work of the catalogue.

    hours: labour, low, likely, high. parts: in the base year's money and currency; also a yard's
    fee that is one price. scale_by: loa, displacement, price or none, to the power scale_exponent,
    relative to the 10 m boat or one of the reference price. own_work: whether owners may do it;
    own_hours_factor: how many times longer they take.
    Raises ValueError naming the job and field; a job with neither hours nor parts has no price.
    """

    code: str
    hours: ThreePoint
    parts: ThreePoint
    scale_by: ScaleBy = "none"
    scale_exponent: float = 1.0
    own_work: bool = False
    own_hours_factor: float = 1.0

    def __post_init__(self) -> None:
        for name in ("hours", "parts"):
            _check_three_points(f"{self.code}: {name}", getattr(self, name))
        require(self.hours[1] > 0 or self.parts[1] > 0, self.code, "has neither hours nor parts")
        known = self.scale_by in ("loa", "displacement", "price", "none")
        require(known, f"{self.code}: scale_by", f"{self.scale_by!r} is not known")
        require(
            bool(np.isfinite(self.scale_exponent)), f"{self.code}: scale_exponent", "is no number"
        )
        require(self.own_hours_factor > 0, f"{self.code}: own_hours_factor", "is not above 0")


@dataclass(frozen=True, slots=True)
class Size:
    """The quantities that prices scale with. displacement_kg, price: None where it is not known.

    price: of the boat, in the catalogue's base-year money; the reference price if not known.
    """

    loa_m: float
    displacement_kg: float | None = None
    price: float | None = None

    def __post_init__(self) -> None:
        require(self.loa_m > 0, "loa_m", "is not above 0")
        known = self.displacement_kg
        require(known is None or known > 0, "displacement_kg", "is not above 0")
        require(self.price is None or self.price >= 0, "price", "is negative or not a number")

    def scale(self, by: str, exponent: float) -> float:
        """Price of a job on this boat divided by its price on the reference boat."""
        length = self.loa_m / REFERENCE_LOA_M
        if by == "loa":
            ratio = length
        elif by == "displacement":
            # Boats of the same form displace with the cube of their length.
            known = self.displacement_kg
            ratio = length**3 if known is None else known / REFERENCE_DISPLACEMENT_KG
        elif by == "price":
            ratio = 1.0 if self.price is None else self.price / REFERENCE_PRICE
        else:
            ratio = 1.0
        return float(ratio**exponent)


@dataclass(frozen=True, slots=True)
class Rates:
    """The list's rates, in the list's currency, as of now.

    yard_hour: price of an hour of a yard's labour. price_index: prices now divided by prices in the
    catalogue's base year. currency: list currency for one unit of the catalogue's currency.
    """

    yard_hour: float
    price_index: float = 1.0
    currency: float = 1.0

    def __post_init__(self) -> None:
        for name in self.__slots__:
            value = getattr(self, name)
            require(bool(np.isfinite(value)) and value > 0, name, "is not above 0")

    @property
    def money(self) -> float:
        """List currency now for one unit of the catalogue's base-year money."""
        return self.price_index * self.currency


@dataclass(frozen=True, slots=True)
class OwnHours:
    """The work that the group does itself.

    codes: jobs in the order in which the group would spend its hours on them. hours: that it has.
    hour_value: value of one of its own hours to the group, in the list's currency; may be 0.
    """

    codes: tuple[str, ...] = ()
    hours: float = 0.0
    hour_value: float = 0.0

    def __post_init__(self) -> None:
        require(self.hours >= 0, "hours", "is negative or not a number")
        require(self.hour_value >= 0, "hour_value", "is negative or not a number")


@dataclass(frozen=True, slots=True, eq=False)
class Pricing:
    """Prices of P jobs; which of them the group does itself (P,), and the hours it has left.

    refused: codes that the group wanted to do but only a professional may do.
    beyond_hours: codes for which the group has too few hours, so that the yard does them.
    """

    prices: Prices
    own: Bools
    own_hours_left: float
    refused: tuple[str, ...]
    beyond_hours: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuotedPrice:
    """A price from a yard or rigger for the whole of a job, in the list's currency.

    log_sd: how far the bill may stray, as standard deviation of its logarithm; 0 is a fixed price.
    """

    amount: float
    log_sd: float = 0.0


def price_jobs(
    jobs: Sequence[PricedJob],
    size: Size,
    rates: Rates,
    own_work: OwnHours | None = None,
    *,
    expected_extent: Floats | None = None,
) -> Pricing:
    """Three points and labour share of each job, for one boat.

    expected_extent: (P,) how much of each job the boat is expected to need (Moments.remedy_extent);
    an own job uses that many of the group's hours; 1 each by default. A job uses its likely hours
    times the owner's factor. The group's jobs are taken in the order in which it named them. If the
    hours left are too few for a job, the yard does all of it; smaller ones after it may still fit.
    Low is added to low and high to high: hours and parts of a job go wrong together.
    Raises ValueError where expected_extent has another length or is negative.
    """
    own_work = own_work or OwnHours()
    extent = np.ones(len(jobs)) if expected_extent is None else expected_extent
    require(extent.shape == (len(jobs),), "expected_extent", f"needs shape ({len(jobs)},)")
    require(bool((extent >= 0).all()), "expected_extent", "is negative or not a number")

    scale = np.array([size.scale(job.scale_by, job.scale_exponent) for job in jobs])
    hours = np.array([job.hours for job in jobs]).reshape(-1, 3) * scale[:, None]
    parts = np.array([job.parts for job in jobs]).reshape(-1, 3) * scale[:, None] * rates.money
    own_hours = hours * np.array([job.own_hours_factor for job in jobs])[:, None]

    own, left, refused, beyond = _share_out(jobs, own_hours[:, 1] * extent, own_work)
    labour = np.where(own[:, None], own_hours * own_work.hour_value, hours * rates.yard_hour)
    low, likely, high = (labour + parts).T
    yard = np.where(own, 0.0, labour[:, 1])
    return Pricing(
        prices=Prices(
            low=low,
            likely=likely,
            high=high,
            labour_share=np.divide(yard, likely, out=np.zeros(len(jobs)), where=likely > 0),
            quoted=np.zeros(len(jobs), dtype=bool),
            quote_sd=np.zeros(len(jobs)),
        ),
        own=own,
        own_hours_left=left,
        refused=refused,
        beyond_hours=beyond,
    )


def _share_out(
    jobs: Sequence[PricedJob], needs_hours: Floats, own_work: OwnHours
) -> tuple[Bools, float, tuple[str, ...], tuple[str, ...]]:
    """Jobs that the group does itself, hours left, and jobs that it may not or cannot do."""
    place = {job.code: index for index, job in enumerate(jobs)}
    own = np.zeros(len(jobs), dtype=bool)
    left, refused, beyond = own_work.hours, [], []
    for code in dict.fromkeys(own_work.codes):
        if code not in place:
            continue
        index = place[code]
        if not jobs[index].own_work:
            refused.append(code)
        elif needs_hours[index] > left:
            beyond.append(code)
        else:
            own[index] = True
            left -= float(needs_hours[index])
    return own, left, tuple(refused), tuple(beyond)


def with_quotes(prices: Prices, quotes: dict[int, QuotedPrice]) -> Prices:
    """The same prices with quotes in place of estimates; keys are positions 0..P-1.

    Raises ValueError for a position that is not there or a negative amount.
    """
    likely, quoted, spread = prices.likely.copy(), prices.quoted.copy(), prices.quote_sd.copy()
    for index, quote in quotes.items():
        require(0 <= index < len(prices), f"quotes[{index}]", "there is no such job")
        require(
            bool(np.isfinite(quote.amount)) and quote.amount >= 0,
            f"quotes[{index}]: amount",
            "is negative or not a number",
        )
        likely[index], quoted[index], spread[index] = quote.amount, True, quote.log_sd
    return Prices(prices.low, likely, prices.high, prices.labour_share, quoted, spread)


@dataclass(frozen=True, slots=True)
class CatalogueFee:
    """A fee or yearly cost of the catalogue, in the base year's money.

    per: boat, m (of length overall), or value (then the points are shares of the boat's value).
    Raises ValueError naming the fee and field.
    """

    code: str
    points: ThreePoint
    per: str = "boat"

    def __post_init__(self) -> None:
        _check_three_points(self.code, self.points)
        known = self.per in ("boat", "m", "value")
        require(known, f"{self.code}: per", f"{self.per!r} is not known")


def price_fees(
    fees: Sequence[CatalogueFee], size: Size, rates: Rates, *, value: float = 0.0
) -> Floats:
    """Low, likely and high of each fee for one boat, (P, 3), in the list's currency now.

    value: of the boat, for fees that are a share of it.
    """
    units = {"boat": rates.money, "m": size.loa_m * rates.money, "value": value}
    points = np.array([fee.points for fee in fees]).reshape(-1, 3)
    priced: Floats = points * np.array([units[fee.per] for fee in fees]).reshape(-1, 1)
    return priced


def expected_of(points: Floats) -> Floats:
    """Mean of each three points (P, 3), read as PERT betas, (P,)."""
    mean: Floats = points @ np.array([1.0, 4.0, 1.0]) / 6
    return mean


def _check_three_points(field: str, points: ThreePoint) -> None:
    require(len(points) == 3, field, f"needs low, likely and high, has {len(points)} values")
    low, likely, high = points
    require(all(np.isfinite(points)), field, "is not a number")
    require(low >= 0, field, "low is negative")
    require(low <= likely, field, "low is above likely")
    require(likely <= high, field, "likely is above high")
