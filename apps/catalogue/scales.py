"""How a measured value gives a level; see fixtures/catalogue/scales.toml."""

from dataclasses import dataclass
from typing import Annotated

from apps.catalogue.content import Code, Flag, ShortText, Source, Title, Unit
from apps.catalogue.fields import Entry, many, meaning, number
from apps.catalogue.vocabulary import LEVELS

Finite = Annotated[float, number()]


@dataclass(frozen=True)
class Grade(Entry):
    """A standard's own grade."""

    standard: ShortText
    grade: ShortText
    value: Annotated[Finite, meaning("the largest value of the grade")]


@dataclass(frozen=True, kw_only=True)
class ScaleEntry(Entry):
    code: Code
    title: Title
    unit: Unit
    range: Annotated[tuple[Finite, ...], many("numbers (lowest, highest)", 2, 2)]
    rising: Flag = True
    breaks: Annotated[
        tuple[Finite, ...],
        many("numbers", len(LEVELS) - 1, len(LEVELS) - 1),
        meaning("up to the first (down to it, if falling) is level 0, beyond the fourth level 4"),
    ]
    grades: tuple[Grade, ...] = ()
    source: Source

    @property
    def lowest(self) -> float:
        return self.range[0]

    @property
    def highest(self) -> float:
        return self.range[1]

    def level(self, value: float) -> int:
        """The level 0..4 of a value. Raises ValueError outside the scale's range."""
        if not self.lowest <= value <= self.highest:
            raise ValueError(
                f"{value:g} is outside {self.lowest:g} to {self.highest:g} {self.unit}"
            )
        return sum(value > edge if self.rising else value < edge for edge in self.breaks)
