"""What the catalogue says, as plain values: read from the files, kept in versions, reckoned with.

Money is in the base year's prices and currency of the catalogue, for a boat of the reference
length; hours are a yard's hours.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

LEVELS = ("sound", "serviceable", "tired", "defective", "failed")
FAILED = 4

CONCERNS = ("structural", "safety", "flooding", "value", "legal")
GUARDED = frozenset({"structural", "safety", "flooding"})

PROFESSIONALS = (
    "surveyor",
    "rigger",
    "engine mechanic",
    "electrician",
    "gas fitter",
    "sailmaker",
    "yard",
    "lawyer",
)

# Whose age counts for the belief about a checkpoint before anybody looked.
AGES_WITH = ("boat", "engine", "standing_rigging", "sails")

# Where one stands to look, in walking order. What is asked by telephone needs no visit.
PLACES: Mapping[str, str] = {
    "ask": "By telephone, before you go",
    "ground": "From the ground or the dock",
    "deck": "On deck",
    "hatch": "At the open hatch, before anybody goes below",
    "below": "Below",
    "engine": "At the engine",
}
# 1: in a first look of a quarter of an hour; 2: in one of an hour; 3: on a second visit.
PRIORITIES = (1, 2, 3)

# The particulars of a boat on which it depends whether a checkpoint applies.
PARTICULARS: Mapping[str, tuple[str, ...]] = {
    "hull_material": ("grp", "cored_grp", "steel", "aluminium", "wood", "ferrocement"),
    "keel": ("full", "encapsulated", "bolted_fin", "bolted_bulb", "lifting", "twin"),
    "keel_ballast": ("lead", "iron"),
    "rudder": ("keel_hung", "skeg", "partial_skeg", "spade", "transom"),
    "drive": ("deadwood_shaft", "strut_shaft", "saildrive", "outboard"),
    "propeller": ("fixed", "folding", "feathering"),
    "mast": ("keel_stepped", "deck_stepped"),
    "standing_rigging": ("wire", "rod", "fibre"),
    "fuel": ("diesel", "petrol", "electric"),
    "steering": ("tiller", "wheel"),
    "windlass": ("none", "manual", "electric"),
    "holding_tank": ("none", "fitted"),
    "teak_deck": ("none", "laid"),
    "heater": ("none", "diesel", "gas", "solid_fuel", "electric"),
}

# Conditions of a viewing that are known beforehand, and rule out a look or make a guess of it.
CONDITIONS: Mapping[str, str] = {
    "afloat": "the boat is afloat",
    "ashore": "the boat is ashore",
    "covered": "a tight cover is on",
    "walk_under_cover": "she stands under a cover to walk under",
    "mast_down": "the mast is not stepped",
    "mast_elsewhere": "the mast is somewhere else",
    "engine_winterised": "the engine is laid up",
    "batteries_off": "the batteries are disconnected",
    "wet": "it is wet",
    "frost": "there is frost or snow",
    "poor_light": "the light is poor",
    "seller_absent": "the seller is not there",
}
# What only turns up on the spot.
OBSTACLES: Mapping[str, str] = {
    "locked": "it is locked",
    "fresh_paint": "fresh paint hides it",
    "no_access": "it cannot be reached safely",
    "no_leave": "the seller did not allow it",
    "growth": "weed or shell covers it",
    "aired": "the cabin was aired before",
    "stowed_over": "gear is stowed over it",
}
REASONS: Mapping[str, str] = {**CONDITIONS, **OBSTACLES}
# What a reason not to look says of how a boat was kept: how likely it is on a cherished, an
# ordinary and a neglected boat, against the ordinary one. Who has something to hide refuses, locks
# or stows over more often. Project's own estimate, kept small. Weather and covers say nothing.
SAYS_OF_CARE: Mapping[str, tuple[float, float, float]] = {
    "no_leave": (0.7, 1.0, 1.4),
    "locked": (0.85, 1.0, 1.2),
    "stowed_over": (0.75, 1.0, 1.3),
}

URGENCIES = ("now", "later")
CONFIDENCES = ("firm", "fair", "rough")
FEE_BASES = ("m", "boat")
RUNNING_BASES = ("m", "boat", "value")
# Owners take 1.5 to 3 times a yard's hours (common practice, no source).
OWN_HOURS_FACTOR = 2.0
# On how many boats of 30 years a thing is broken whatever their care, where a checkpoint does not
# say. Project's own estimate.
BREAKAGE = 0.02

# How the codes begin that an owner adds; the base has none of these, whatever it adds later.
OWN_PREFIX: Mapping[str, str] = {"club": "club-", "group": "group-"}
OWNERS = ("base", *OWN_PREFIX)
OWN_PREFIXES = tuple(OWN_PREFIX.values())


# What is sound or serviceable is nothing wrong: whoever must judge it, a doubt begins above.
LEAST_DOUBT = 2


def guarded(concerns: Iterable[str]) -> bool:
    """Whether a doubt stays open until a professional or a document clears it."""
    return not GUARDED.isdisjoint(concerns)


@dataclass(frozen=True)
class ThreePoints:
    low: float
    likely: float
    high: float

    @property
    def mean(self) -> float:
        """The classic three-point mean (Malcolm et al. 1959)."""
        return (self.low + 4 * self.likely + self.high) / 6


@dataclass(frozen=True)
class Area:
    code: str
    title: str
    position: int


@dataclass(frozen=True)
class Caution:
    code: str
    title: str
    text: str
    defer_to: str


@dataclass(frozen=True)
class Grade:
    """A standard's own grade and the largest value it stands for."""

    standard: str
    grade: str
    value: float


@dataclass(frozen=True)
class Scale:
    """How a measured value reads as a level; see fixtures/catalogue/scales.toml."""

    code: str
    title: str
    unit: str
    rising: bool
    lowest: float
    highest: float
    breaks: tuple[float, ...]
    grades: tuple[Grade, ...]
    source: str

    def level(self, value: float) -> int:
        """The level 0..4 of a value. Raises ValueError outside the scale's range."""
        if not self.lowest <= value <= self.highest:
            raise ValueError(
                f"{value:g} is outside {self.lowest:g} to {self.highest:g} {self.unit}"
            )
        return sum(value > edge if self.rising else value < edge for edge in self.breaks)


@dataclass(frozen=True)
class Enabling:
    """Work that several remedies need first and that is paid once."""

    code: str
    title: str
    hours: ThreePoints
    parts: ThreePoints
    loa_exponent: float
    confidence: str
    source: str


@dataclass(frozen=True)
class Variant:
    """What a remedy takes on boats that are built so, in place of its usual hours and parts."""

    applies: Mapping[str, tuple[str, ...]]
    hours: ThreePoints
    parts: ThreePoints


@dataclass(frozen=True)
class Remedy:
    """One thing to put right, priced for one unit of extent.

    by_price: it grows in proportion to the boat's price, not with her length; its figures are for
    a boat of `reckoning.pricing.REFERENCE_PRICE`.
    """

    code: str
    title: str
    area: str
    hours: ThreePoints
    parts: ThreePoints
    loa_exponent: float
    count: str
    enabling: tuple[str, ...]
    own_work: bool
    own_hours_factor: float
    urgency: str
    confidence: str
    source: str
    by_price: bool = False
    variants: tuple[Variant, ...] = ()

    def on(self, built_of: Mapping[str, str]) -> "Remedy":
        """The remedy with its figures for a boat built so, as far as anybody said how she is."""
        for variant in self.variants:
            if all(built_of.get(name) in values for name, values in variant.applies.items()):
                return replace(self, hours=variant.hours, parts=variant.parts)
        return self


@dataclass(frozen=True)
class Fee:
    """A cost of buying (once) or of keeping (yearly): per metre, per boat, or share of value."""

    code: str
    title: str
    cost: ThreePoints
    per: str
    source: str


@dataclass(frozen=True)
class Belief:
    """What is expected before anybody looked (levels, at 30 years of wear): model.md 1.

    breakage: share of boats of 30 years on which it is broken, whatever their care.
    """

    mu: float
    age: float
    care: float
    sd: float
    ages_with: str
    breakage: float = BREAKAGE


@dataclass(frozen=True)
class Measure:
    name: str
    unit: str
    scale: str


@dataclass(frozen=True)
class RemedyCall:
    """How likely, and for how much of it, each of the five levels calls for a remedy."""

    code: str
    probability: tuple[float, ...]
    extent: tuple[float, ...]


@dataclass(frozen=True)
class Checkpoint:
    """One thing to look at.

    Walking order goes by `place`, the area and, within both, `position`. priority: 1 to 3, what to
    look at first (`PRIORITIES`). minutes: that it takes. ask: what to ask the seller, empty where
    nothing that the seller says would help. hampered_by: what makes a guess of the look.
    """

    code: str
    area: str
    title: str
    position: int
    look: str
    tools: tuple[str, ...]
    levels: tuple[str, ...]
    concerns: tuple[str, ...]
    weight: float
    walk_away_level: int | None
    cautions: tuple[str, ...]
    prevented_by: tuple[str, ...]
    professional: str
    professional_from: int
    professional_only: bool
    receipt_clears: bool
    belief: Belief
    applies: Mapping[str, tuple[str, ...]]
    measure: Measure | None
    remedies: tuple[RemedyCall, ...]
    tags: tuple[str, ...]
    source: str
    place: str
    priority: int
    minutes: int
    ask: str
    hampered_by: tuple[str, ...]

    @property
    def guarded(self) -> bool:
        return guarded(self.concerns)

    @property
    def doubt_from(self) -> int:
        """The level from which a finding is a doubt: below it, a note.

        That from which the professional must judge, and never what is nothing wrong.
        """
        return max(self.professional_from, LEAST_DOUBT)

    @property
    def judged_first_from(self) -> int:
        """The level at which one look is enough for: not before a professional has judged it."""
        return FAILED if self.walk_away_level is None else self.walk_away_level


@dataclass(frozen=True)
class Basis:
    """In what the catalogue's costs are expressed."""

    base_year: int
    currency: str
    reference_loa_m: float


@dataclass(frozen=True)
class Money:
    """The basis of costs, an hour of a yard's labour, and how to move prices to another year."""

    basis: Basis
    yard_rate: ThreePoints
    price_index: Mapping[int, float]

    def indexed(self, year: int) -> int:
        """The last year of the index that is not after this one; its first for one before it."""
        first = min(self.price_index)
        return max((known for known in self.price_index if known <= year), default=first)

    @property
    def last_rate(self) -> float:
        """By what part prices rose a year at the end of the index; 0 where it has one year."""
        if len(self.price_index) < 2:
            return 0.0
        before, last = sorted(self.price_index)[-2:]
        growth: float = (self.price_index[last] / self.price_index[before]) ** (1 / (last - before))
        return growth - 1

    def price_ratio(self, year: int) -> float:
        """Prices of `year` over the base year's.

        A year without a figure is carried forward from the last before it by `last_rate`; one
        before the index has the first year's.
        """
        known = self.indexed(year)
        ratio = self.price_index[known] / self.price_index[self.basis.base_year]
        return ratio * (1 + self.last_rate) ** max(year - known, 0)


@dataclass(frozen=True)
class Catalogue:
    """Everything, by code; checkpoints in walking order."""

    money: Money
    areas: Mapping[str, Area]
    cautions: Mapping[str, Caution]
    scales: Mapping[str, Scale]
    enabling: Mapping[str, Enabling]
    remedies: Mapping[str, Remedy]
    fees: Mapping[str, Fee]
    running: Mapping[str, Fee]
    checkpoints: Mapping[str, Checkpoint]


@dataclass(frozen=True)
class SetAside:
    """An owner's own entry that does not fit what lies beneath it any more, and why."""

    owner: str
    kind: str
    code: str
    why: str


@dataclass(frozen=True)
class Snapshot:
    """What holds for somebody: an edition of the base with what a club and a group laid over it.

    checkpoint_version_ids: the versions that findings are made against, by code. club_edition,
    group_edition: 0 where they have nothing of their own. own: by kind and code, whose words those
    are that are not the base's.
    """

    edition: int
    catalogue: Catalogue
    checkpoint_version_ids: Mapping[str, int]
    club_edition: int = 0
    group_edition: int = 0
    own: Mapping[tuple[str, str], str] = field(default_factory=dict)
    set_aside: tuple[SetAside, ...] = ()

    @property
    def editions(self) -> dict[str, int]:
        return {
            "base": self.edition,
            "club": self.club_edition,
            "group": self.group_edition,
        }

    def said_by(self, owner: str, kind: str) -> frozenset[str]:
        """The codes of this kind whose words are the owner's ("club" or "group")."""
        return frozenset(
            code for (of, code), whose in self.own.items() if (of, whose) == (kind, owner)
        )


def in_walking_order(
    checkpoints: Iterable[Checkpoint], area_positions: Mapping[str, int]
) -> dict[str, Checkpoint]:
    """By code, as one comes past them: by place, the area's position and their own."""
    places = list(PLACES)

    def order(checkpoint: Checkpoint) -> tuple[int, int, int, str]:
        area = area_positions.get(checkpoint.area, len(area_positions))
        return places.index(checkpoint.place), area, checkpoint.position, checkpoint.code

    return {checkpoint.code: checkpoint for checkpoint in sorted(checkpoints, key=order)}


def digest(*said: Any) -> str:
    """SHA-256 (hex) of what content dataclasses say, whatever the order of their mappings."""
    plain = json.dumps([asdict(part) for part in said], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()
