"""Pictures of the statistics (`apps.common.drawing`)."""

from collections.abc import Callable, Mapping, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

from apps.common.drawing import BLUE, GREY, VERMILION, shorter, under
from apps.outcomes.answer import FigureRead, OutcomesRead

ROW_INCHES = 0.34
MOST_ROWS = 30  # in one picture; the table has all
TITLE_WIDTH = 44


def found_figure(club_outcomes: OutcomesRead) -> Figure:
    """How often each checkpoint was defective, the most frequent first."""
    found = [(one["title"], one["found"]) for one in club_outcomes["checkpoints"] if one["found"]]
    rows = sorted(found, key=lambda one: -one[1]["figure"])[:MOST_ROWS]
    figure, axes = canvas(len(rows), "What surveys found", club_outcomes)
    for y, (_, row) in enumerate(rows):
        line(axes, y, row, colour=BLUE, marker="o")
        if row["expected"] is not None:
            axes.plot([row["expected"]], [y], marker="|", markersize=14, color="black")
        beside(axes, y, row)
    share_axis(axes, "share of surveyed boats; upright stroke: as the catalogue expects")
    return finished(figure, axes, [title for title, _ in rows], club_outcomes)


def detection_figure(club_outcomes: OutcomesRead) -> Figure:
    """What members had reported where a defect was, and where none was."""
    rows = [one for one in club_outcomes["checkpoints"] if one["caught"] or one["cleared"]]
    rows = sorted(rows, key=lambda one: one["caught"]["figure"] if one["caught"] else 2.0)
    rows = rows[:MOST_ROWS]
    figure, axes = canvas(len(rows), "How well quick looks had seen it", club_outcomes)
    for y, row in enumerate(rows):
        if row["caught"]:
            line(axes, y - 0.15, row["caught"], colour=BLUE, marker="o")
        if row["cleared"]:
            line(axes, y + 0.15, row["cleared"], colour=VERMILION, marker="s", hollow=True)
    share_axis(
        axes,
        "disc: seen where it was so; open square: not seen where it was not; share of boats",
    )
    return finished(figure, axes, [row["title"] for row in rows], club_outcomes)


def cost_figure(club_outcomes: OutcomesRead) -> Figure:
    """Paid over estimated, the highest first, on a logarithmic scale."""
    costs = [(one["title"], one["cost"]) for one in club_outcomes["remedies"] if one["cost"]]
    rows = sorted(costs, key=lambda one: -one[1]["figure"])[:MOST_ROWS]
    figure, axes = canvas(len(rows), "What it came to against the estimate", club_outcomes)
    axes.set_xscale("log")
    for y, (_, row) in enumerate(rows):
        line(axes, y, row, colour=BLUE, marker="o")
        beside(axes, y, row)
    axes.axvline(1.0, color="black", linewidth=1.2, linestyle="--")
    low = min([0.5, *(row["low"] for _, row in rows)])
    high = max([2.0, *(row["high"] for _, row in rows)])
    axes.set_xlim(low / 1.1, high * 1.8)
    ticks = [tick for tick in (0.1, 0.25, 0.5, 1, 2, 4, 10) if low / 1.1 <= tick <= high * 1.1]
    axes.set_xticks(ticks)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g}"))
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("paid over estimated; dashed: as estimated")
    return finished(figure, axes, [title for title, _ in rows], club_outcomes)


FIGURES: Mapping[str, Callable[[OutcomesRead], Figure]] = {
    "found": found_figure,
    "disclosed": detection_figure,
    "cost": cost_figure,
}


def canvas(rows: int, title: str, club_outcomes: OutcomesRead) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(9, 1.9 + ROW_INCHES * max(rows, 1)), layout="constrained")
    axes = figure.subplots()
    boats = club_outcomes["boats_shown"]["words"]
    axes.set_title(f"{title}: {boats}", loc="left", fontweight="bold")
    return figure, axes


def line(
    axes: Axes, y: float, figure: FigureRead, *, colour: str, marker: str, hollow: bool = False
) -> None:
    axes.plot((figure["low"], figure["high"]), (y, y), color=colour, linewidth=2)
    axes.plot(
        [figure["figure"]],
        [y],
        marker=marker,
        markersize=8,
        color=colour,
        markerfacecolor="white" if hollow else colour,
        markeredgewidth=1.8,
    )


def beside(axes: Axes, y: float, figure: FigureRead) -> None:
    axes.annotate(
        f"{figure['boats']} boats, {figure['groups']} groups",
        (figure["high"], y),
        xytext=(8, 0),
        textcoords="offset points",
        va="center",
        fontsize=8,
        color=GREY,
    )


def share_axis(axes: Axes, label: str) -> None:
    axes.set_xlim(-0.03, 1.2)
    axes.set_xticks([0, 0.25, 0.5, 0.75, 1.0])
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:.0%}"))
    axes.set_xlabel(label)


def finished(
    figure: Figure, axes: Axes, titles: Sequence[str], club_outcomes: OutcomesRead
) -> Figure:
    axes.set_yticks(range(len(titles)), [shorter(title, TITLE_WIDTH) for title in titles])
    axes.set_ylim(len(titles) - 0.4, -0.7)
    if not titles:
        axes.text(0.5, 0.5, "no figures to show yet", transform=axes.transAxes, ha="center")
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(axis="y", length=0)
    disclosed = [one["sentence"] for one in club_outcomes["warnings"]]
    under(figure, " ".join([*disclosed, club_outcomes["caution"]]))
    return figure
