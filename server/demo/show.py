"""Prints the service's answers on a terminal of 100 columns."""

from collections.abc import Callable, Iterator
from math import ceil
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Literal

from server.demo.reading import DemoBoat, DemoReading

if TYPE_CHECKING:
    from apps.appraisal.board.answer import BoardRow, MemberRead
    from apps.appraisal.stored.parts import Amount, Range
    from apps.appraisal.stored.standing import Doubt

WIDTH = 100
BAR_COLUMNS = 32
STEP = 10_000  # the scale ends at a whole number of these
LEVELS = ("sound", "serviceable", "tired", "defective", "failed")
DEFECTIVE = 3
MOST_DOUBTS = 3
MOST_PLACES = 5
RANGE: tuple[Literal["low", "likely", "high"], ...] = ("low", "likely", "high")

Say = Callable[[str], None]


def reading(found: DemoReading, say: Say) -> None:
    """The board, the reason for each place, who disagrees, what to do next, and the caution."""
    for part in (heading, table, reasons, between_people, next_looks, caution):
        for line in part(found):
            say(line)


def heading(found: DemoReading) -> Iterator[str]:
    board = found.board
    yield ""
    yield "=" * WIDTH
    sure = percent(board["required_confidence"] or 0)
    budget = money(found.budget)
    yield f"{board['list']['name']}: budget {budget}, to be kept with a chance of {sure}"
    if not board["fresh"]:
        yield "NOT UP TO DATE: the service is behind with its work, or it failed. See its log."
    yield "=" * WIDTH


# --- The order -----------------------------------------------------------------------------------


class AxisScale:
    """From 0 to `end`, in the board's currency, with the budget on it."""

    def __init__(self, end: float, budget: float) -> None:
        self.end, self.budget = end, budget

    @classmethod
    def over(cls, boats: list[DemoBoat], budget: float) -> "AxisScale":
        highs = [float(boat.row["upfront"]["high"]) for boat in boats if boat.row["upfront"]]
        return cls(ceil(max([*highs, budget]) / STEP) * STEP, budget)

    def column(self, amount: float) -> int:
        return round(amount / self.end * (BAR_COLUMNS - 1))

    def bar(self, cost: "Range") -> str:
        """`=` from low to high, `o` the likely cost, `|` the budget."""
        low, likely, high = (self.column(float(cost[n])) for n in RANGE)
        bar = ["."] * BAR_COLUMNS
        bar[low : high + 1] = "=" * (high - low + 1)
        bar[self.column(self.budget)] = "|"
        bar[likely] = "o"
        return "".join(bar)

    def ticks(self) -> str:
        """Thousands at every second step, moved left where the budget's mark is."""
        marks = [" "] * BAR_COLUMNS
        for amount in range(0, int(self.end) + 1, 2 * STEP):
            text = f"{amount // 1000}"
            at = min(self.column(amount), BAR_COLUMNS - len(text))
            marks[at : at + len(text)] = text
        return "".join(marks)


def table(found: DemoReading) -> Iterator[str]:
    scale = AxisScale.over(found.boats, float(found.budget["amount"]))
    unit = f"up front, thousand {found.board['currency']}"
    yield f"{unit:>36}  {'':{BAR_COLUMNS}} {'in':>5} {'':>5} {'condition':>11} {'seen':>5}"
    yield f"{'low likely   high':>36}  {scale.ticks()} {'budget':>5} {'later':>5} {'0 to 100':>11}"
    for boat in found.boats:
        yield table_line(boat.row, scale)
    yield "   = from low to high (one in ten is below, one in ten above), o likely, | the budget"
    yield "   up front: price, fees, reserve and the work that cannot wait; later: what can"
    yield "   in budget: the chance to stay within it; seen: how much of what matters was looked at"
    yield "   x there is reason to strike her off; people decide"


def table_line(row: "BoardRow", scale: AxisScale) -> str:
    mark = "x" if row["strike_off_advised"] else " "
    head = f"{mark}{row['place'] or '-':>2} {row['name'][:11]:11}"
    cost, later, within = row["upfront"], row["later"], row["within_budget"]
    if cost is None or later is None or within is None:
        return f"{head} cannot be priced: {', '.join(row['missing'])}"
    low, likely, high = (float(cost[name]) / 1000 for name in RANGE)
    condition = row["condition"]
    about = f"{condition['score']:.0f} ({condition['low']:.0f}-{condition['high']:.0f})"
    return (
        f"{head} {low:6.1f} {likely:6.1f} {high:6.1f}  {scale.bar(cost)} "
        f"{percent(within):>5} {float(later['mean']) / 1000:5.1f} {about:>11} "
        f"{percent(condition['coverage'] or 0):>5}"
    )


# --- Why -----------------------------------------------------------------------------------------


def reasons(found: DemoReading) -> Iterator[str]:
    yield from titled("Why")
    for boat in found.boats:
        yield f"{boat.row['place'] or '-':>2} {boat.row['name']}: {who_she_is(boat.candidate)}"
        if boat.reasons["stage"] == "struck_off":
            yield from paragraph(f"Struck off: {boat.reasons['stage_reason']}")
        for sentence in boat.row["sentences"][2:]:  # the first two are in the table
            yield from paragraph(sentence)
        yield from paragraph(work(boat))
        yield from paragraph(doubts(boat))
        for one in boat.row["before_buying"]:
            yield from paragraph(one["sentence"], bullet="- ")
        yield from advice(boat)


def who_she_is(candidate: dict[str, Any]) -> str:
    known = [
        candidate["build_year"] and str(candidate["build_year"]),
        candidate["loa_m"] and f"{candidate['loa_m']:.1f} m",
        candidate["hull_material"] and in_words(candidate["hull_material"]),
        candidate["keel"] and f"{in_words(candidate['keel'])} keel",
        candidate["asking"] and f"asks {money(candidate['asking'])}",
    ]
    return f"{', '.join(filter(None, known))}, at {candidate['place']['yard']}"


def in_words(code: str) -> str:
    return code.replace("_", " ").replace("grp", "GRP")


def work(boat: DemoBoat) -> str:
    """The expected cost of repairs, by whether anybody saw the defect."""
    causes = boat.rollup.get("by_cause")
    if not causes:
        return boat.rollup["sentence"]
    named = (
        (causes["seen"], "seen"),
        (causes["disputed"], "disputed"),
        (causes["not_seen"], "not seen by anybody"),
    )
    parts = [f"{money(cost)} {words}" for cost, words in named if float(cost["amount"])]
    dearest = "; ".join(one["title"] for one in boat.rollup["drivers"][:2])
    return f"Work: {', '.join(parts)}. Most of it: {dearest}."


def doubts(boat: DemoBoat) -> str:
    """The worst open doubts."""
    found = sorted(boat.reasons["doubts"], key=gravity)
    worst = [one for one in found if one["level"] >= DEFECTIVE][:MOST_DOUBTS]
    named = "; ".join(
        f"{one['title']} ({LEVELS[one['level']]}, says {one['name']}; {one['judged_by']} to judge)"
        for one in worst
    )
    if not found:
        return "No open doubt."
    count = f"{len(found)} open {'doubt' if len(found) == 1 else 'doubts'}"
    return f"{count}, the worst: {named}." if named else f"{count}, none above tired."


def gravity(doubt: "Doubt") -> tuple[int, bool]:
    """A sort key: the worst first, and structure first among equals."""
    return -doubt["level"], "structural" not in doubt["concerns"]


def advice(boat: DemoBoat) -> Iterator[str]:
    """The reasons to strike her off."""
    found = boat.row["advice"]
    if not found:
        yield from paragraph("No reason found to strike her off.")
        return
    yield from paragraph("Strike her off:")
    for one in found:
        yield from paragraph(one["sentence"], bullet="- ")


# --- Between people ------------------------------------------------------------------------------


def between_people(found: DemoReading) -> Iterator[str]:
    yield from titled("Who would rank them otherwise")
    names = {boat.row["candidate_id"]: boat.row["name"] for boat in found.boats}
    for member in found.board["members"]:
        yield from paragraph(f"{member_order(member, names)} {member['sentence']}")
    votes = found.board["votes"]
    for sentence in votes["sentences"] if votes else ():
        yield from paragraph(sentence)


def member_order(member: "MemberRead", names: dict[str, str]) -> str:
    places = sorted(member["places"], key=lambda one: one["place"])
    parts = ", ".join(
        f"{one['place']} {names[one['candidate_id']]}" for one in places[:MOST_PLACES]
    )
    source = "by ballot" if member["source"] == "ballot" else "by worth"
    return f"{member['name']} ({percent(member['share'])}, {source}): {parts}."


def next_looks(found: DemoReading) -> Iterator[str]:
    """The value of further looks, and how each person tends to see."""
    yield from titled("What to look at next")
    looks = found.next_looks
    for one in (
        *looks["checks"][:4],
        *looks["visits"][:2],
        *looks["surveys"][:3],
        *looks["questions"][:3],
    ):
        yield from paragraph(one["sentence"], bullet="- ")
    for left_out in looks["left_out"]:
        yield from paragraph(left_out["sentence"])
    for sentence in looks["sentences"]:
        yield from paragraph(sentence)
    yield from titled("How they tend to see")
    for rater in found.raters["raters"]:
        if rater["kind"] == "member":
            yield from paragraph(" ".join(rater["sentences"]))
    if found.raters["agreement"]:
        yield from paragraph(found.raters["agreement"]["list"]["sentence"])


def caution(found: DemoReading) -> Iterator[str]:
    board = found.board
    yield from titled("Caution")
    yield from paragraph(board["caution"])
    yield from paragraph(f"Revision {board['revision']}, method {board['method']}.")


# --- Text ----------------------------------------------------------------------------------------


def titled(title: str) -> Iterator[str]:
    yield ""
    yield f"--- {title} ".ljust(WIDTH, "-")


def paragraph(text: str, bullet: str = "") -> Iterator[str]:
    indent = " " * 3
    yield from wrap(
        text,
        WIDTH,
        initial_indent=indent + bullet,
        subsequent_indent=indent + " " * len(bullet),
    )


def money(figure: "Amount") -> str:
    return f"{float(figure['amount']):,.0f} {figure['currency']}"


def percent(part: float) -> str:
    """A percentage that is 0% or 100% only if the chance is exactly that."""
    if 0 < part < 0.01:
        return "<1%"
    if 0.99 < part < 1:
        return ">99%"
    return f"{part:.0%}"
