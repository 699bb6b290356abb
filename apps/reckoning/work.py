"""The work that one boat may need, and the purchase cost: the inputs of the cost model.

Model (section 3): a checkpoint at a level calls for remedies with a probability each, every link
independently of the others once the level is known. Two checkpoints that call for one remedy cause
it once, at the larger extent. Enabling work shared by several remedies is paid once. A quote is for
the whole job on this boat, so neither an extent nor the yard-rate factor moves it.

A missing price is never taken for zero: the classes refuse what is not a number.
"""

from dataclasses import dataclass, replace

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.priors import CARE_CLASSES

# Nobody asks a seller for a larger cut than this part of the asking price; project's own estimate.
MOST_OFF = 0.30
YARD_RATE_SD = 0.15  # of the factor on all labour, whose mean is 1 (model section 3)
MOST_REMEDIES = 10  # that a checkpoint may call for; next looks go through all their combinations


def require(condition: bool, field: str, problem: str) -> None:
    """Raise ValueError naming the field unless the condition holds."""
    if not condition:
        raise ValueError(f"{field}: {problem}")


def require_all(good: Bools, field: str, problem: str) -> None:
    """Raise ValueError naming the field and its first bad position unless all are good."""
    if not good.all():
        at = ", ".join(str(int(index)) for index in np.argwhere(~good)[0])
        raise ValueError(f"{field}[{at}]: {problem}")


@dataclass(frozen=True, slots=True, eq=False)
class Prices:
    """P priced things (remedies or enabling works), in the list's currency.

    low, likely, high: three points (P,), already scaled to the boat, per unit of extent.
    labour_share: part of the price (P,), 0..1, that the yard-rate factor multiplies.
    quoted: (P,) if true, `likely` is a quote for the whole job, and low and high are not used.
    quote_sd: (P,) standard deviation of the logarithm of a quoted price; 0 is a fixed price.
    Raises ValueError naming the field and position of what is not a number, negative or in the
    wrong order.
    """

    low: Floats
    likely: Floats
    high: Floats
    labour_share: Floats
    quoted: Bools
    quote_sd: Floats

    def __post_init__(self) -> None:
        shape = (len(self.likely),)
        for name in ("low", "likely", "high", "labour_share", "quoted", "quote_sd"):
            value = getattr(self, name)
            require(value.shape == shape, name, f"needs shape {shape}, has {value.shape}")
            require_all(np.isfinite(value), name, "is not a number")
        require_all(self.likely >= 0, "likely", "is negative")
        require_all(self.quoted | (self.low >= 0), "low", "is negative")
        require_all(self.quoted | (self.low <= self.likely), "low", "is above likely")
        require_all(self.quoted | (self.likely <= self.high), "likely", "is above high")
        require_all(
            (self.labour_share >= 0) & (self.labour_share <= 1), "labour_share", "is not in 0..1"
        )
        require_all(self.quote_sd >= 0, "quote_sd", "is negative")

    def __len__(self) -> int:
        return len(self.likely)

    @property
    def span(self) -> Floats:
        """High minus low, (P,); 0 where quoted."""
        return np.where(self.quoted, 0.0, self.high - self.low)

    @property
    def shapes(self) -> tuple[Floats, Floats]:
        """The two parameters of each PERT beta, (P,) each; both 3 where the price is certain.

        alpha = 1 + 4 (m - a) / (b - a), beta = 1 + 4 (b - m) / (b - a): the beta whose mean is
        (a + 4 m + b) / 6.
        """
        span = self.span
        rise = np.divide(self.likely - self.low, span, out=np.full(len(self), 0.5), where=span > 0)
        return 1 + 4 * rise, 5 - 4 * rise

    @property
    def mean(self) -> Floats:
        """Expected price (P,): (a + 4 m + b) / 6 after Malcolm et al. (1959), or the quote."""
        return np.where(self.quoted, self.likely, (self.low + 4 * self.likely + self.high) / 6)

    @property
    def variance(self) -> Floats:
        """Variance of the price (P,): of the PERT beta, (mean - a)(b - mean) / 7, or lognormal."""
        pert = (self.mean - self.low) * (self.high - self.mean) / 7
        return np.where(self.quoted, self.likely**2 * np.expm1(self.quote_sd**2), pert)

    @property
    def yard_share(self) -> Floats:
        """Part of the price (P,) that moves with the yard rate; 0 for a quote."""
        return np.where(self.quoted, 0.0, self.labour_share)


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """Possible work on one boat: K remedies, M enabling works, T links to checkpoints.

    remedies: K prices; enabling: M prices.
    needs: (K, M) enabling work that each remedy needs.
    now: (K,) whether the remedy cannot wait.
    link_checkpoint, link_remedy: (T,) indices; each pair at most once.
    link_probability: (T, 5) chance that the checkpoint calls for the remedy at each level.
    link_extent: (T, 5) factor on the price in that case; where it is 0 nothing is called for.
    Raises ValueError naming the field and position.
    """

    remedies: Prices
    enabling: Prices
    needs: Bools
    now: Bools
    link_checkpoint: Ints
    link_remedy: Ints
    link_probability: Floats
    link_extent: Floats

    def __post_init__(self) -> None:
        remedies, links = len(self.remedies), len(self.link_remedy)
        for name, shape in (
            ("needs", (remedies, len(self.enabling))),
            ("now", (remedies,)),
            ("link_checkpoint", (links,)),
            ("link_remedy", (links,)),
            ("link_probability", (links, LEVELS)),
            ("link_extent", (links, LEVELS)),
        ):
            value = getattr(self, name)
            require(value.shape == shape, name, f"needs shape {shape}, has {value.shape}")
        require_all(self.link_checkpoint >= 0, "link_checkpoint", "is negative")
        require_all(
            (self.link_remedy >= 0) & (self.link_remedy < remedies),
            "link_remedy",
            f"is not one of the {remedies} remedies",
        )
        chance, extent = self.link_probability, self.link_extent
        require_all((chance >= 0) & (chance <= 1), "link_probability", "is not in 0..1")
        require_all((extent >= 0) & np.isfinite(extent), "link_extent", "is not 0 or more")
        pairs = self.link_checkpoint * max(remedies, 1) + self.link_remedy
        require(
            len(np.unique(pairs)) == links,
            "link_remedy",
            "a checkpoint is linked to the same remedy twice",
        )
        most = np.bincount(self.link_checkpoint).max() if links else 0
        require(
            most <= MOST_REMEDIES,
            "link_checkpoint",
            f"a checkpoint calls for {most} remedies, at most {MOST_REMEDIES} can be",
        )

    def calling(self, links: Bools) -> "Work":
        """The same if these links, (T,), call for their remedy at every level."""
        sure = links[:, None]
        return replace(
            self,
            link_probability=np.where(sure, 1.0, self.link_probability),
            link_extent=np.where(sure & (self.link_extent == 0), 1.0, self.link_extent),
        )

    def silenced(self, levels: Bools) -> "Work":
        """The same if these links call for nothing at these levels, (T, 5)."""
        return replace(self, link_probability=np.where(levels, 0.0, self.link_probability))

    @property
    def extent(self) -> Floats:
        """Extent that each link causes at each level (T, 5); a quoted remedy is whole or not."""
        whole = (self.link_extent > 0).astype(float)
        return np.where(self.remedies.quoted[self.link_remedy, None], whole, self.link_extent)

    @property
    def chance(self) -> Floats:
        """Chance (T, 5) that each link calls for anything at each level."""
        return np.where(self.link_extent > 0, self.link_probability, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Purchase:
    """The price part of the all-in cost, in the list's currency.

    asking: asking price, or the live offer (then with expected_share 1 and share_sd 0).
    expected_share, share_sd: expected price as a part of the asking price: a lognormal of that mean
    and standard deviation, so never a negative price.
    fixed: purchase costs that do not depend on the price (survey, lift-out, transport).
    tax_rate: on the price paid. reserve_rate: money kept for the unexpected, as a part of the
    expected price.
    Raises ValueError naming the field.
    """

    asking: float
    expected_share: float = 1.0
    share_sd: float = 0.0
    fixed: float = 0.0
    tax_rate: float = 0.0
    reserve_rate: float = 0.0

    def __post_init__(self) -> None:
        for name in self.__slots__:
            value = getattr(self, name)
            require(bool(np.isfinite(value)), name, "is not a number")
            require(value >= 0, name, "is negative")
        require(self.expected_share > 0, "expected_share", "is not above 0")

    @property
    def share_log_sd(self) -> float:
        """Standard deviation of the logarithm of the share of the asking price."""
        return float(np.sqrt(np.log1p((self.share_sd / self.expected_share) ** 2)))

    @property
    def expected_price(self) -> float:
        return self.asking * self.expected_share

    def may_be_cut_by(self, amount: float) -> bool:
        """Whether a buyer could ask the seller for such a cut."""
        return amount <= MOST_OFF * self.asking

    @property
    def reserve(self) -> float:
        return self.reserve_rate * self.expected_price


def check_belief(care: Floats, level_given_care: Floats, work: Work) -> Bools:
    """Which checkpoints apply to the boat, (J,), after checking the belief about it.

    care: (3,) P(care class). level_given_care: (3, J, 5) P(level | care class); all zeros where the
    checkpoint does not apply. Or both mixed over K draws of the graders: (K, 3), P(draw, care
    class), and (K, 3, J, 5) (`belief.Belief.of_boat`). Raises ValueError naming the field.
    """
    one = care.shape[-1:] == (len(CARE_CLASSES),) and care.ndim in (1, 2)
    require(one, "care", f"needs shape (3,) or (K, 3), has {care.shape}")
    require_all(care >= 0, "care", "is negative or not a number")
    require(bool(abs(care.sum() - 1) < 1e-6), "care", f"sums to {care.sum()}, not to 1")
    shape = level_given_care.shape
    fits = shape[:-2] == care.shape and len(shape) == care.ndim + 2 and shape[-1] == LEVELS
    require(fits, "level_given_care", f"needs shape (3, J, 5), or K of them, has {shape}")
    require_all(level_given_care >= 0, "level_given_care", "is negative or not a number")
    total = np.einsum("...l->...", level_given_care).reshape(care.size, shape[-2])
    applies: Bools = total.any(axis=0)
    require_all(
        np.abs(total - applies) < 1e-6,
        "level_given_care",
        "does not sum to 1 (or to 0 in all classes, where it does not apply)",
    )
    require_all(
        work.link_checkpoint < len(applies),
        "link_checkpoint",
        f"is not one of the {len(applies)} checkpoints",
    )
    return applies
