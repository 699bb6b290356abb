"""The types of the catalogue's entries: read from the files, kept in versions, used for results.

The types define what an entry may be, for the files and for the API (schema.py). Money is in the
base year's prices and currency of the catalogue, for a boat of the reference length; hours are a
yard's hours.
"""

from collections.abc import Mapping
from dataclasses import astuple, dataclass, field, replace
from typing import Annotated, Any, ClassVar, Self

from pydantic import AfterValidator, ConfigDict, GetCoreSchemaHandler, Strict, model_validator
from pydantic_core import CoreSchema, core_schema

from apps.catalogue import vocabulary
from apps.catalogue.fields import (
    Entry,
    many,
    meaning,
    never_null,
    number,
    one_of,
    particulars,
    refusal,
    text,
    whole,
)
from apps.catalogue.vocabulary import LEVELS


def _sorted(codes: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted(codes))


Code = Annotated[str, text(60, r"^[a-z0-9]+(-[a-z0-9]+)*$")]
# Their order has no meaning.
Codes = Annotated[tuple[Code, ...], many("codes", unique=True), AfterValidator(_sorted)]
Title = Annotated[str, text(200)]
Source = Annotated[str, text(400)]
ShortText = Annotated[str, text(60)]
ShortTexts = Annotated[tuple[ShortText, ...], many("words", unique=True)]
Unit = Annotated[str, text(20)]
Flag = Annotated[bool, Strict()]
Position = Annotated[int, whole(1, 10_000)]
Amount = Annotated[float, number(0, 1e6)]
Share = Annotated[float, number(0, 1)]
Extent = Annotated[float, number(0, 1000)]
Reason = Annotated[str, one_of(vocabulary.REASONS)]
Reasons = Annotated[tuple[Reason, ...], many("reasons", unique=True)]
Concern = Annotated[str, one_of(vocabulary.CONCERNS)]
Particulars = Annotated[Mapping[str, tuple[str, ...]], particulars()]
Place = Annotated[str, one_of(vocabulary.PLACES)]
Priority = Annotated[int, whole(1, 3), meaning("1: in a first look of a quarter of an hour")]
Minutes = Annotated[int, whole(1, 60), meaning("minutes that it takes")]
Level = Annotated[int, whole(0, vocabulary.FAILED)]

OF_LEVELS = many("numbers", len(LEVELS), len(LEVELS))


@dataclass(frozen=True)
class ThreePoints:
    """Written as a list of three numbers."""

    low: float
    likely: float
    high: float

    @classmethod
    def __get_pydantic_core_schema__(cls, _: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        listed = Annotated[tuple[Amount, ...], many("numbers (low, likely, high)", least=3, most=3)]
        return core_schema.no_info_after_validator_function(
            cls.of,
            handler.generate_schema(listed),
            serialization=core_schema.plain_serializer_function_ser_schema(astuple),
        )

    @classmethod
    def of(cls, listed: tuple[float, float, float]) -> Self:
        points = cls(*listed)
        if not points.in_order:
            raise refusal("out_of_order", "low, likely and high are out of order")
        return points

    @property
    def in_order(self) -> bool:
        return self.low <= self.likely <= self.high

    @property
    def mean(self) -> float:
        """The classic three-point mean (Malcolm et al. 1959)."""
        return (self.low + 4 * self.likely + self.high) / 6


@dataclass(frozen=True)
class AreaEntry(Entry):
    code: Code
    title: Title
    position: Annotated[Position, meaning("walking order")]


@dataclass(frozen=True)
class CautionEntry(Entry):
    code: Code
    title: Title
    text: Annotated[str, text(1000)]
    defer_to: Annotated[str, text(300)]


@dataclass(frozen=True, kw_only=True)
class Scaling(Entry):
    """How the figures scale: only length has an exponent."""

    __pydantic_config__ = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "if": {"properties": {"by": {"const": "loa"}}},
            "then": {"required": ["exponent"], "properties": {"exponent": {}}},
            "else": {"maxProperties": 1},
        },
    )

    by: Annotated[str, one_of(("loa", "none"))]
    exponent: Annotated[float | None, number(0, 3), never_null()] = None

    @model_validator(mode="after")
    def exponent_fits(self) -> Self:
        if self.by == "loa" and self.exponent is None:
            raise refusal("contradiction", "lacks exponent")
        if self.by != "loa" and self.exponent is not None:
            raise refusal("contradiction", "an exponent needs by = 'loa'")
        return self


@dataclass(frozen=True, kw_only=True)
class PricedScaling(Scaling):
    by: Annotated[str, one_of(("loa", "price", "none"))]


@dataclass(frozen=True, kw_only=True)
class PricedEntry(Entry):
    """Work that takes a yard's hours, and parts."""

    code: Code
    title: Title
    hours: ThreePoints
    parts: ThreePoints
    scale: Scaling
    confidence: Annotated[str, one_of(vocabulary.CONFIDENCES)]
    source: Source

    @property
    def loa_exponent(self) -> float:
        return self.scale.exponent or 0.0


@dataclass(frozen=True, kw_only=True)
class EnablingEntry(PricedEntry):
    """Work that several remedies need first and that is paid once."""


@dataclass(frozen=True, kw_only=True)
class Variant(Entry):
    """Hours and parts of a remedy on boats built in a certain way, in place of the usual ones."""

    applies: Annotated[
        Particulars,
        many("particulars", least=1),
        meaning("particular to the values it has on such a boat"),
    ]
    hours: ThreePoints
    parts: ThreePoints


@dataclass(frozen=True, kw_only=True)
class RemedyEntry(PricedEntry):
    """One thing to repair, priced for one unit of extent."""

    scale: PricedScaling
    area: Code
    count: Annotated[ShortText, meaning("what the extent counts")] = ""
    enabling: Codes
    own_work: Annotated[Flag, meaning("false: a professional is required")]
    own_hours_factor: Annotated[float, number(1, 5)] = vocabulary.OWN_HOURS_FACTOR
    urgency: Annotated[str, one_of(vocabulary.URGENCIES)]
    variants: tuple[Variant, ...] = ()

    @property
    def by_price(self) -> bool:
        """Whether the cost is in proportion to the boat's price and not to her length.

        The figures are then for a boat of `reckoning.pricing.REFERENCE_PRICE`.
        """
        return self.scale.by == "price"

    def on(self, built_of: Mapping[str, str]) -> "RemedyEntry":
        """The remedy with the figures for a boat of this build, as far as her build is known."""
        for variant in self.variants:
            if all(built_of.get(name) in values for name, values in variant.applies.items()):
                return replace(self, hours=variant.hours, parts=variant.parts)
        return self


@dataclass(frozen=True, kw_only=True)
class FeeEntry(Entry):
    """A cost of buying (once): per metre or per boat."""

    code: Code
    title: Title
    low: Amount
    likely: Amount
    high: Amount
    per: Annotated[str, one_of(vocabulary.FEE_BASES)]
    source: Source

    @property
    def cost(self) -> ThreePoints:
        return ThreePoints(self.low, self.likely, self.high)


@dataclass(frozen=True, kw_only=True)
class RunningCostEntry(FeeEntry):
    """A cost of keeping (yearly): per metre, per boat, or a share of her value."""

    per: Annotated[str, one_of(vocabulary.RUNNING_BASES)]


@dataclass(frozen=True, kw_only=True)
class Rate(Entry):
    """The price of an hour of a yard's labour."""

    code: Code
    hour: ThreePoints

    title: ClassVar[str] = "An hour of a yard's labour"


@dataclass(frozen=True, kw_only=True)
class BeliefEntry(Entry):
    """The levels expected before anybody looks: model.md 1."""

    mu: Annotated[float, number(-2, 4), meaning("level of an ordinary boat after 30 years of wear")]
    age: Annotated[float, number(0, 2), meaning("change of the level in ten years")]
    care: Annotated[
        float, number(0, 2), meaning("share of the boat's general care that shows here")
    ]
    sd: Annotated[float, number(0.2, 3), meaning("scatter between boats")]
    ages_with: Annotated[str, one_of(vocabulary.AGES_WITH), meaning("the part whose age counts")]
    breakage: Annotated[
        float,
        number(0, 0.5),
        meaning("share of boats of 30 years on which it is broken, whatever their care"),
    ] = vocabulary.BREAKAGE


@dataclass(frozen=True)
class Measure(Entry):
    name: ShortText
    unit: Unit
    scale: Annotated[Code, meaning("code of the scale that reads it as a level")]


@dataclass(frozen=True)
class RemedyTrigger(Entry):
    """The chance that each of the five levels calls for a remedy, and the extent."""

    code: Code
    probability: Annotated[
        tuple[Share, ...], OF_LEVELS, meaning("chance that it is called for, level 0 to 4")
    ]
    extent: Annotated[tuple[Extent, ...], OF_LEVELS, meaning("its extent, level 0 to 4")]


@dataclass(frozen=True, kw_only=True)
class FiledCheckpoint(Entry):
    """One thing to look at, as in the file of its area.

    Walking order is by `place`, then the area, then `position`. priority: 1 to 3, what to look at
    first (`PRIORITIES`). minutes: the time it takes. ask: the question to the seller, empty if no
    answer would help. hampered_by: conditions that make the look only a guess.
    """

    code: Code
    title: Title
    position: Annotated[Position, meaning("walking order within its area at its place")]
    look: Annotated[str, text(600)]
    tools: ShortTexts = ()
    levels: Annotated[
        tuple[Annotated[str, text(300)], ...], many("descriptions", len(LEVELS), len(LEVELS))
    ]
    concerns: Annotated[tuple[Concern, ...], many("concerns", least=1, unique=True)]
    weight: Annotated[float, number(0.5, 5)]
    walk_away_level: Annotated[int | None, whole(1, 4)] = None
    cautions: Codes = ()
    prevented_by: Reasons = ()
    hampered_by: Reasons = ()
    professional: Annotated[str, one_of(("", *vocabulary.PROFESSIONALS))]
    professional_from: Annotated[
        Level, meaning("the level from which the professional must judge; 0: always")
    ]
    professional_only: Flag
    receipt_clears: Annotated[
        Flag, meaning("a receipt for what was renewed or serviced closes a doubt")
    ] = False
    belief: BeliefEntry
    applies: Annotated[
        Particulars, meaning("the values that each of these particulars may have")
    ] = field(default_factory=dict)
    measure: Annotated[Measure | None, never_null()] = None
    remedies: tuple[RemedyTrigger, ...] = ()
    tags: ShortTexts = ()
    source: Source
    place: Place
    priority: Priority
    minutes: Minutes
    ask: Annotated[str, text(300), meaning("what to ask the seller")] = ""

    @property
    def guarded(self) -> bool:
        return vocabulary.guarded(self.concerns)

    @property
    def doubt_from(self) -> int:
        """The level from which a finding is a doubt; below it, it is a note.

        It is the level from which the professional must judge, but never a level of nothing wrong.
        """
        return max(self.professional_from, vocabulary.LEAST_DOUBT)

    @property
    def judged_first_from(self) -> int:
        """The level from which one look calls for a professional's judgement before buying."""
        return vocabulary.FAILED if self.walk_away_level is None else self.walk_away_level


@dataclass(frozen=True, kw_only=True)
class CheckpointEntry(FiledCheckpoint):
    """A checkpoint with its area. Clubs and groups may leave out where and when to look."""

    area: Code
    place: Place = vocabulary.USUAL_PLACE
    priority: Priority = vocabulary.USUAL_PRIORITY
    minutes: Minutes = vocabulary.USUAL_MINUTES
