"""The columns of the board as a table: in the CSV file, on the page and in the printed brief.

A column with a `title` is also on the page and in the brief, in the same words. The figures come
from the answer of `lists/ID/board`; add a new figure in `board.row`, in the shape
`stored.standing.StandingRow` and in `BoardRowSerializer`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.stored.parts import StoredCondition
from apps.appraisal.words.sentences import NO_REASON, structure_in_short
from apps.common.wording import percent

UNKNOWN = "-"


@dataclass(frozen=True)
class BoardColumn:
    """One column.

    name: its header in the file. cell: its value in the file. title: its header on the page.
    in_brief: its header in the brief if that differs. words: the text on the page and in the
    brief. of_cost: empty for a boat that cannot be priced. share: relative width on paper among
    the columns of words.
    """

    name: str
    cell: Callable[[BoardRow], object]
    title: str = ""
    words: Callable[[BoardRow], str] = lambda row: ""
    in_brief: str = ""
    holds: Literal["words", "figures"] = "figures"
    of_cost: bool = False
    share: float = 1.0

    @property
    def brief_title(self) -> str:
        return self.in_brief or self.title


def inside(*names: str) -> Callable[[BoardRow], Any]:
    """Read the value at this path; None if a part of the path is missing or null."""

    def found(row: BoardRow) -> Any:
        at: Any = row
        for name in names:
            at = at.get(name) if at else None
        return at

    return found


def whole(amount: str | None) -> str:
    """'31,000'; the currency is in the column's header."""
    return UNKNOWN if amount is None else f"{float(amount):,.0f}"


def amount(*names: str) -> Callable[[BoardRow], str]:
    return lambda row: whole(inside(*names)(row))


def part(*names: str) -> Callable[[BoardRow], str]:
    """A chance or a share."""

    def cell(row: BoardRow) -> str:
        known = inside(*names)(row)
        return UNKNOWN if known is None else percent(known)

    return cell


def condition(figures: StoredCondition) -> str:
    """'79 (78 to 81), structure tired': the average alone would hide the worst."""
    if figures["score"] is None:
        return UNKNOWN
    score = f"{figures['score']:.0f} ({figures['low']:.0f} to {figures['high']:.0f})"
    return ", ".join(filter(None, (score, structure_in_short(figures))))


def advised(row: BoardRow) -> str:
    if row["strike_off_advised"]:
        return "strike off?"
    return NO_REASON if row["upfront"] else "no price"


def why(row: BoardRow) -> str:
    return " ".join([*row["sentences"], *(one["sentence"] for one in row["advice"])])


COLUMNS = (
    BoardColumn("place", inside("place"), "Place", lambda row: str(row["place"])),
    BoardColumn(
        "boat", inside("name"), "Boat", lambda row: str(row["name"]), holds="words", share=1.6
    ),
    BoardColumn(
        "upfront_low",
        inside("upfront", "low"),
        "Up front: low",
        amount("upfront", "low"),
        in_brief="Low",
        of_cost=True,
    ),
    BoardColumn(
        "upfront_likely",
        inside("upfront", "likely"),
        "likely",
        amount("upfront", "likely"),
        in_brief="Likely",
        of_cost=True,
    ),
    BoardColumn(
        "upfront_high",
        inside("upfront", "high"),
        "high",
        amount("upfront", "high"),
        in_brief="High",
        of_cost=True,
    ),
    BoardColumn(
        "chance_within_budget",
        inside("within_budget"),
        "Within the budget",
        part("within_budget"),
        of_cost=True,
    ),
    BoardColumn(
        "later_mean", inside("later", "mean"), "Later", amount("later", "mean"), of_cost=True
    ),
    BoardColumn("all_in_low", inside("all_in", "low")),
    BoardColumn("all_in_likely", inside("all_in", "likely")),
    BoardColumn("all_in_high", inside("all_in", "high")),
    BoardColumn("currency", inside("all_in", "currency")),
    BoardColumn(
        "condition",
        inside("condition", "score"),
        "Condition",
        lambda row: condition(row["condition"]),
        holds="words",
        share=2.2,
    ),
    BoardColumn("condition_low", inside("condition", "low")),
    BoardColumn("condition_high", inside("condition", "high")),
    BoardColumn("worst_structural", inside("condition", "worst_structural", "level")),
    BoardColumn(
        "coverage", inside("condition", "coverage"), "Looked at", part("condition", "coverage")
    ),
    BoardColumn(
        "strike_off_advised",
        lambda row: "yes" if row["strike_off_advised"] else "no",
        "Advice",
        advised,
        holds="words",
        share=1.8,
    ),
    BoardColumn("reasons", why),
    BoardColumn(
        "before_buying", lambda row: " ".join(one["sentence"] for one in row["before_buying"])
    ),
    BoardColumn("struck_off_because", inside("stage_reason")),
    BoardColumn("candidate_id", inside("candidate_id")),
)
READ = tuple(column for column in COLUMNS if column.title)
