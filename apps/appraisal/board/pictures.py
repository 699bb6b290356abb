"""Pictures of results (`apps.common.drawing`)."""

from collections.abc import Iterator, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from apps.appraisal.board.documents import RowDrawn
from apps.appraisal.looks.looks_selectors import StepRead
from apps.appraisal.stored.parts import Amount, Range
from apps.appraisal.words import phrases, sentences
from apps.common.drawing import BLUE, GREY, VERMILION, shorter, under
from apps.common.wording import percent

# Narrow, with large letters, because telephones shrink a wide picture.
WIDTH_INCHES, ROW_INCHES = 5.6, 0.42
LETTERS, SMALL_LETTERS = 12, 10  # points
# A white box keeps figures legible where the budget line crosses them.
LEGIBLE = {"facecolor": "white", "edgecolor": "none", "pad": 1}


def board_figure(
    rows: Sequence[RowDrawn], budget: Amount | None, currency: str, name: str = "", notes: str = ""
) -> Figure:
    """The cost of each boat up front (low, likely, high) against the budget."""
    height = 2.4 + ROW_INCHES * max(len(rows), 1)
    figure = Figure(figsize=(WIDTH_INCHES, height), layout="constrained")
    axes = figure.subplots()
    limit = float(budget["amount"]) if budget else None
    for y, row in enumerate(rows):
        cost, later, within = row["upfront"], row["later"], row["within_budget"]
        if cost is None or later is None or within is None or limit is None:
            axes.text(
                0.01,
                y,
                sentences.no_cost(row["missing"]),
                transform=axes.get_yaxis_transform(),
                va="center",
                color=GREY,
                style="italic",
                fontsize=SMALL_LETTERS,
                bbox=LEGIBLE,
            )
        else:
            cost_line(axes, y, cost, limit)
            advised = "\nstrike off?" if row["strike_off_advised"] else ""
            right_of(axes, y, f"{beside(within, later)}{advised}")
    name_rows(axes, [(row["place"], row["name"]) for row in rows])
    finish(axes, len(rows), limit, currency)
    axes.set_title(shorter(name, 40), loc="left", fontweight="bold")
    under(figure, notes, letters=9, width=68)
    return figure


def cost_line(axes: Axes, y: int, cost: Range, limit: float) -> None:
    """A line from low to high, dotted beyond the budget; a disc at likely, open if over budget."""
    low, likely, high = float(cost["low"]), float(cost["likely"]), float(cost["high"])
    within, beyond = (low, min(high, limit)), (max(low, limit), high)
    if within[0] < within[1]:
        axes.plot(within, (y, y), color=BLUE, linewidth=3, solid_capstyle="butt")
    if beyond[0] < beyond[1]:
        axes.plot(beyond, (y, y), color=VERMILION, linewidth=3, linestyle=(0, (1, 1)))
    fits = likely <= limit
    axes.plot(
        [likely],
        [y],
        marker="o",
        markersize=9,
        color=BLUE if fits else VERMILION,
        markerfacecolor=BLUE if fits else "white",
        markeredgewidth=2,
    )


def right_of(axes: Axes, y: int, text: str) -> None:
    """Text in a column right of the lines."""
    axes.annotate(
        text,
        (1.0, y),
        xycoords=axes.get_yaxis_transform(),
        xytext=(4, 0),
        textcoords="offset points",
        va="center",
        fontsize=SMALL_LETTERS,
        linespacing=1.0,
    )


def beside(within: float, later: Range) -> str:
    """The chance of staying within the budget, and the later cost."""
    mean = float(later["mean"])
    return f"{percent(within)} +{phrases.rounded(mean):,.0f}" if mean >= 1 else percent(within)


def name_rows(axes: Axes, rows: Sequence[tuple[int | None, str]]) -> None:
    """rows: each boat's place and name."""
    names = [f"{place}. {shorter(name, 18)}" for place, name in rows]
    axes.set_yticks(range(len(rows)), names, fontsize=LETTERS)


def finish(axes: Axes, rows: int, limit: float | None, currency: str) -> None:
    axes.set_ylim(rows - 0.4, -0.9)
    if limit is not None:
        axes.axvline(limit, color="black", linewidth=1.5, linestyle="--")
        axes.annotate(
            f"budget {limit:,.0f}",
            (limit, -0.85),
            xytext=(4, 0),
            textcoords="offset points",
            va="top",
            fontsize=SMALL_LETTERS,
            bbox=LEGIBLE,
        )
    axes.margins(x=0.06)
    axes.xaxis.set_major_locator(MaxNLocator(4))
    axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.tick_params(axis="x", labelsize=SMALL_LETTERS)
    axes.set_xlabel(
        f"cost up front, {currency}: the line spans 80% of\nthe outcomes, the disc is the "
        "middle one; dotted and\nopen lie beyond the budget; on the right the chance of\nstaying "
        "within the budget, and + what can wait",
        fontsize=SMALL_LETTERS,
    )
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(axis="y", length=0)


# --- From the asking price to the all-in cost ----------------------------------------------------

# Hatching distinguishes the causes for readers who do not see colours.
CAUSES = {
    "seen": (BLUE, "", "seen"),
    "disputed": ("#E69F00", "//", "disputed"),
    "not_seen": ("white", "..", "not seen"),
}
STEP_INCHES, WATERFALL_LETTERS = 0.32, 9


def waterfall_bars(steps: Sequence[StepRead]) -> Iterator[StepRead]:
    """The steps with their sums: the cost up front, and the all-in cost if any work can wait."""
    upfront = [step for step in steps if step["of"] != "later"]
    later = steps[len(upfront) :]
    if upfront:
        yield from upfront
        yield {**upfront[-1], "of": "sum", "label": "Up front, on average"}
    if later:
        yield from later
        yield {**later[-1], "of": "sum", "label": "All-in, on average"}


def waterfall_bar(axes: Axes, y: int, bar: StepRead) -> None:
    amount, total = float(bar["amount"]["amount"]), float(bar["total"]["amount"])
    whole = bar["of"] == "sum"
    colour, hatch, _ = CAUSES.get(bar["cause"] or "", (GREY, "", ""))
    axes.barh(
        y,
        total if whole else amount,
        left=0 if whole else total - amount,
        color="black" if whole else colour,
        hatch="" if whole else hatch,
        edgecolor="black",
        linewidth=0.6,
        height=0.7,
    )
    axes.annotate(
        f"{total:,.0f}" if whole or y == 0 else f"{amount:+,.0f}",
        (max(total, total - amount), y),
        xytext=(5, 0),
        textcoords="offset points",
        va="center",
        fontsize=WATERFALL_LETTERS,
        fontweight="bold" if whole else "normal",
    )


def waterfall_figure(steps: Sequence[StepRead], name: str = "", notes: str = "") -> Figure:
    """One bar for each step, beginning where the last one ended; sums in black."""
    bars = list(waterfall_bars(steps))
    height = 2.2 + STEP_INCHES * max(len(bars), 1)
    figure = Figure(figsize=(WIDTH_INCHES, height), layout="constrained")
    axes = figure.subplots()
    for y, bar in enumerate(bars):
        waterfall_bar(axes, y, bar)
    labels = [bar["label"] for bar in bars]
    if bars:
        axes.set_xlabel(
            f"{bars[0]['amount']['currency']}; plain blue was seen, hatched is\ndisputed, dotted "
            "white nobody has seen",
            fontsize=WATERFALL_LETTERS,
        )
    else:
        axes.text(0.5, 0.5, "cannot be priced yet", transform=axes.transAxes, ha="center")
    axes.set_yticks(range(len(labels)), labels, fontsize=WATERFALL_LETTERS)
    axes.invert_yaxis()
    axes.margins(x=0.16)
    axes.xaxis.set_major_locator(MaxNLocator(4))
    axes.tick_params(axis="x", labelsize=WATERFALL_LETTERS)
    axes.xaxis.set_major_formatter("{x:,.0f}")
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.set_title(shorter(name), loc="left", fontweight="bold")
    under(figure, notes, letters=9, width=68)
    return figure
