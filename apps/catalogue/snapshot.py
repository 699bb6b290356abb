"""A whole catalogue, and the catalogue that holds for a group."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Annotated, Any

from apps.catalogue.content import (
    AreaEntry,
    CautionEntry,
    CheckpointEntry,
    EnablingEntry,
    FeeEntry,
    RemedyEntry,
    RunningCostEntry,
    ThreePoints,
)
from apps.catalogue.fields import Entry, meaning, number, text, whole
from apps.catalogue.questions import QuestionEntry
from apps.catalogue.scales import ScaleEntry
from apps.catalogue.vocabulary import PLACES
from apps.common.digests import digest_of


@dataclass(frozen=True)
class CostBasis(Entry):
    """The basis of the catalogue's costs."""

    base_year: Annotated[int, whole(1900, 2200), meaning("year of the prices")]
    currency: Annotated[str, text(3, "^[A-Z]{3}$"), meaning("ISO 4217")]
    reference_loa_m: Annotated[float, number(1, 100), meaning("length of the boat they are for")]


@dataclass(frozen=True)
class CatalogueCosts:
    """The basis of costs, an hour of a yard's labour, and the index that moves prices to a year."""

    basis: CostBasis
    yard_rate: ThreePoints
    price_index: Mapping[int, float]

    def indexed(self, year: int) -> int:
        """The last year of the index up to this year; its first for an earlier one."""
        first = min(self.price_index)
        return max((known for known in self.price_index if known <= year), default=first)

    @property
    def last_rate(self) -> float:
        """Yearly rise of prices at the end of the index, as a part; 0 if it has one year."""
        if len(self.price_index) < 2:
            return 0.0
        before, last = sorted(self.price_index)[-2:]
        growth: float = (self.price_index[last] / self.price_index[before]) ** (1 / (last - before))
        return growth - 1

    def price_ratio(self, year: int) -> float:
        """Prices of `year` divided by the base year's.

        A year after the index is carried forward from its last figure by `last_rate`; a year before
        it takes the first figure.
        """
        known = self.indexed(year)
        ratio = self.price_index[known] / self.price_index[self.basis.base_year]
        return ratio * (1 + self.last_rate) ** max(year - known, 0)


@dataclass(frozen=True)
class Catalogue:
    """All entries, by code; checkpoints in walking order, questions in the order to ask them."""

    money: CatalogueCosts
    areas: Mapping[str, AreaEntry]
    cautions: Mapping[str, CautionEntry]
    scales: Mapping[str, ScaleEntry]
    enabling: Mapping[str, EnablingEntry]
    remedies: Mapping[str, RemedyEntry]
    fees: Mapping[str, FeeEntry]
    running: Mapping[str, RunningCostEntry]
    checkpoints: Mapping[str, CheckpointEntry]
    questions: Mapping[str, QuestionEntry] = field(default_factory=dict)


@dataclass(frozen=True)
class SetAside:
    """An owner's entry that no longer fits the underlying layer, and why."""

    owner: str
    kind: str
    code: str
    why: str


@dataclass(frozen=True)
class Snapshot:
    """The catalogue for a group: an edition of the base, overlaid by its club and the group.

    checkpoint_version_ids: the versions that findings are made against, by code. club_edition,
    group_edition: 0 if they have nothing of their own. own: by kind and code, the owner of each
    entry that is not the base's. layered: the edition's id and the layers over it.
    """

    edition: int
    catalogue: Catalogue
    checkpoint_version_ids: Mapping[str, int]
    club_edition: int = 0
    group_edition: int = 0
    own: Mapping[tuple[str, str], str] = field(default_factory=dict)
    set_aside: tuple[SetAside, ...] = ()
    layered: Any = (None, ())

    @property
    def editions(self) -> dict[str, int]:
        return {
            "base": self.edition,
            "club": self.club_edition,
            "group": self.group_edition,
        }

    def stated_by(self, owner: str, kind: str) -> frozenset[str]:
        """The codes of this kind whose entry is the owner's ("club" or "group")."""
        return frozenset(
            code for (of, code), whose in self.own.items() if (of, whose) == (kind, owner)
        )


def in_walking_order(
    checkpoints: Iterable[CheckpointEntry], area_positions: Mapping[str, int]
) -> dict[str, CheckpointEntry]:
    """By code, in the order of a walk: by place, the area's position and their own."""
    places = list(PLACES)

    def order(checkpoint: CheckpointEntry) -> tuple[int, int, int, str]:
        area = area_positions.get(checkpoint.area, len(area_positions))
        return places.index(checkpoint.place), area, checkpoint.position, checkpoint.code

    return {checkpoint.code: checkpoint for checkpoint in sorted(checkpoints, key=order)}


def digest(*digested: Any) -> str:
    """SHA-256 (hex) of content dataclasses, independent of the order of their mappings."""
    return digest_of([asdict(part) for part in digested])
