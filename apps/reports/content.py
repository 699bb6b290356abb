"""The content of a report: plain values that both renderers take, without layout.

Text is text, neither HTML nor any other markup. The values say what each thing is (a caution, a
figure in a column, a line to write on); the renderers decide its look.
"""

from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, fields, is_dataclass
from datetime import datetime
from typing import Any, ClassVar, Literal, TypedDict

from apps.appraisal.board.documents import RowDrawn
from apps.appraisal.looks.looks_selectors import StepRead
from apps.appraisal.stored.parts import Amount, StoredCondition
from apps.common.digests import digest_of

TICK = "☐"  # an empty box to tick
WRITE = ""  # people write in an empty cell or fact by hand


@dataclass(frozen=True)
class Line:
    """A sentence; `lead` is printed in front of it and highlighted."""

    text: str
    lead: str = ""


@dataclass(frozen=True)
class Paragraph:
    kind: ClassVar[str] = "paragraph"
    text: str
    lead: str = ""


@dataclass(frozen=True)
class Bullets:
    kind: ClassVar[str] = "bullets"
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class CautionFrame:
    """A text that readers must not overlook: it has a frame."""

    kind: ClassVar[str] = "caution"
    text: str
    lead: str = ""


@dataclass(frozen=True)
class Facts:
    """Names with values; an empty value is a line to write on."""

    kind: ClassVar[str] = "facts"
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """`words` are text, `figures` are aligned right, `ticks` and `writing` are filled in by hand.

    share: relative width among the columns of words and writing. Titles are short: they are
    repeated on every sheet, and columns of figures and ticks are as narrow as possible.
    """

    title: str
    holds: Literal["words", "figures", "ticks", "writing"] = "words"
    share: float = 1.0


@dataclass(frozen=True)
class Part:
    """Rows that belong together, with a title if they have one.

    notes: one for each row, or none at all; it is printed below the row over the table's width.
    """

    rows: tuple[tuple[str, ...], ...]
    title: str = ""
    notes: tuple[str, ...] = ()

    @property
    def noted(self) -> Iterator[tuple[tuple[str, ...], str]]:
        """Each row with its note, which may be empty."""
        yield from zip(self.rows, self.notes or ("",) * len(self.rows), strict=True)


@dataclass(frozen=True)
class Table:
    """`names` is the column that names the subject of a row."""

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    parts: tuple[Part, ...]
    names: int = 0


class RangesDrawn(TypedDict):
    """span: the ends of the axis."""

    candidates: list[RowDrawn]
    budget: Amount
    currency: str
    span: tuple[float, float]


class ConditionDrawn(TypedDict):
    place: int | None
    name: str
    condition: StoredCondition


class ConditionsDrawn(TypedDict):
    candidates: list[ConditionDrawn]


class StepsDrawn(TypedDict):
    waterfall: list[StepRead]
    currency: str


@dataclass(frozen=True)
class Picture:
    """A chart by its name in `charts`, with its data; `alt` describes it for who cannot see it."""

    kind: ClassVar[str] = "picture"
    chart: str
    drawn_from: RangesDrawn | ConditionsDrawn | StepsDrawn
    alt: str
    caption: str


@dataclass(frozen=True)
class WritingRoom:
    """Ruled lines."""

    kind: ClassVar[str] = "writing_room"
    label: str
    lines: int


Block = Paragraph | Bullets | CautionFrame | Facts | Table | Picture | WritingRoom


@dataclass(frozen=True)
class Section:
    """new_page: it begins on a new sheet, so that people can share out the sheets."""

    title: str
    blocks: tuple[Block, ...] = ()
    sections: tuple["Section", ...] = ()
    new_page: bool = False


@dataclass(frozen=True)
class ReportContent:
    """`made_at`: when its figures were computed, not when it was printed; the same figures give
    the same bytes. `foot` is printed on every sheet.
    """

    title: str
    subtitle: str
    made_at: datetime | None
    foot: str
    blocks: tuple[Block, ...] = ()
    sections: tuple[Section, ...] = ()
    language: str = field(default="en")

    def as_data(self) -> dict[str, Any]:
        """The tree in JSON, each block with its kind."""
        data: dict[str, Any] = _as_data(self)
        return data

    @property
    def digest(self) -> str:
        """Digest of the whole content: reports with equal digests are equal."""
        return digest_of(self.as_data())


def _as_data(value: Any) -> Any:
    if isinstance(value, Picture):
        return {"kind": value.kind, **asdict(value)}
    if is_dataclass(value) and not isinstance(value, type):
        kind = {"kind": value.kind} if hasattr(value, "kind") else {}
        return kind | {one.name: _as_data(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple):
        return [_as_data(one) for one in value]
    return value


def texts(report: ReportContent) -> Iterator[str]:
    """All texts for the reader, in reading order, without empty fields to write in."""
    yield report.title
    yield report.subtitle
    yield from _texts_of_blocks(report.blocks)
    for section in report.sections:
        yield from _texts_of_section(section)


def _texts_of_section(section: Section) -> Iterator[str]:
    yield section.title
    yield from _texts_of_blocks(section.blocks)
    for inner in section.sections:
        yield from _texts_of_section(inner)


def _texts_of_blocks(blocks: tuple[Block, ...]) -> Iterator[str]:
    for block in blocks:
        yield from (text for text in _texts_of(block) if text)


def _texts_of(block: Block) -> Iterator[str]:
    match block:
        case Paragraph() | CautionFrame():
            yield from (block.lead, block.text)
        case Bullets():
            for line in block.lines:
                yield from (line.lead, line.text)
        case Facts():
            for fact in block.rows:
                yield from fact
        case Table():
            yield block.caption
            yield from (column.title for column in block.columns)
            for part in block.parts:
                yield part.title
                for row, note in part.noted:
                    yield from (*row, note)
        case Picture():
            yield block.caption
        case WritingRoom():
            yield block.label
