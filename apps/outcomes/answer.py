"""Shapes of the answer about a club's statistics."""

from datetime import datetime
from typing import NotRequired, TypedDict

from apps.common.shapes import IdAndName
from apps.http.warnings import Warned


class FigureRead(TypedDict):
    """expected: by the catalogue; only of what surveys found."""

    figure: float
    low: float
    high: float
    groups: int
    boats: int
    disclosed_at: datetime
    expected: NotRequired[float | None]


class BoatsShown(TypedDict):
    """A kind of boats: a property and its value."""

    by: str
    value: str
    words: str


class CheckpointFigures(TypedDict):
    found: FigureRead | None
    caught: FigureRead | None
    cleared: FigureRead | None
    difference: FigureRead | None


class CheckpointOfKind(BoatsShown, CheckpointFigures):
    pass


class CheckpointOutcomes(CheckpointFigures):
    checkpoint: str
    title: str
    area: str
    judged_by: str
    divided: NotRequired[list[CheckpointOfKind]]


class RemedyFigures(TypedDict):
    cost: FigureRead | None


class RemedyOfKind(BoatsShown, RemedyFigures):
    pass


class RemedyOutcomes(RemedyFigures):
    remedy: str
    title: str
    area: str
    divided: NotRequired[list[RemedyOfKind]]


class AreaOutcomes(TypedDict):
    area: str
    title: str
    checkpoints: int
    looks: int
    groups: int
    share: float | None
    expected: float | None


class OutcomesRead(TypedDict):
    club: IdAndName
    computed_at: datetime | None
    method: str
    caution: str
    warnings: list[Warned]
    boats_shown: BoatsShown
    areas: list[AreaOutcomes]
    checkpoints: list[CheckpointOutcomes]
    remedies: list[RemedyOutcomes]
    sentences: list[str]
