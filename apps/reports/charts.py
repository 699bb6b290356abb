"""The pictures of reports, sized for a sheet of paper. What each shows is said beside it in words.

The plotting library takes a while to load: this module is imported where a picture is drawn.
"""

import io
from collections.abc import Callable

import matplotlib
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from apps.appraisal.figures import Json
from apps.appraisal.pictures import board_figure, waterfall_figure
from apps.appraisal.sentences import percent
from apps.exchange.drawing import BLUE, shorter
from apps.reports.content import Picture
from apps.reports.lettering import drawable, everywhere, settable

WIDTH_INCHES = 7.2
ROW_INCHES = 0.25


def svg_of(picture: Picture, *, outlines: bool) -> str:
    """An SVG without its prolog. outlines: letters as shapes, to look the same with any fonts."""
    letters = drawable if outlines else str
    drawn_from = everywhere(lambda text: letters(settable(text)), picture.drawn_from)
    figure = CHARTS[picture.chart](drawn_from)
    out = io.BytesIO()
    with matplotlib.rc_context({"svg.fonttype": "path" if outlines else "none"}):
        figure.savefig(out, format="svg", metadata={"Date": None})
    text = out.getvalue().decode()
    return text[text.index("<svg") :]


def ranges(drawn_from: Json) -> Figure:
    """All-in ranges against the pot. `span`: the same scale for all the pictures of one list."""
    figure = board_figure({**drawn_from, "list": {"name": ""}, "caution": ""})
    _fit(figure, len(drawn_from["candidates"]))
    (axes,) = figure.axes
    axes.set_xlim(*drawn_from["span"])
    axes.set_xlabel(f"all-in cost, {drawn_from['currency']}")
    return figure


def conditions(drawn_from: Json) -> Figure:
    """Condition from 0 to 100 with its interval; beside it how much was looked at."""
    rows = drawn_from["candidates"]
    figure = Figure(layout="constrained")
    _fit(figure, len(rows))
    axes = figure.subplots()
    for y, row in enumerate(rows):
        found = row["condition"]
        if found["score"] is None:
            axes.text(2, y, "nothing can be said yet", va="center", style="italic")
            continue
        axes.plot(
            (found["low"], found["high"]), (y, y), color=BLUE, linewidth=3, solid_capstyle="butt"
        )
        axes.plot([found["score"]], [y], marker="o", markersize=7, color=BLUE)
        axes.annotate(
            f"{percent(found['coverage'] or 0)} looked at",
            (found["high"], y),
            xytext=(8, 0),
            textcoords="offset points",
            va="center",
            fontsize=9,
        )
    axes.set_yticks(range(len(rows)), [f"{row['place']}. {shorter(row['name'])}" for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(0, 118)
    axes.set_xticks(range(0, 101, 20))
    axes.set_xlabel("condition: 0 all failed, 100 all sound")
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(axis="y", length=0)
    return figure


def steps(drawn_from: Json) -> Figure:
    """From the asking price to the all-in cost of one boat."""
    figure = waterfall_figure({**drawn_from, "candidate": {"name": ""}, "caution": ""})
    _fit(figure, len(drawn_from["waterfall"]) + 1)
    (axes,) = figure.axes
    axes.set_xlabel(drawn_from["currency"])
    axes.xaxis.set_major_locator(MaxNLocator(5))
    return figure


def _fit(figure: Figure, rows: int) -> None:
    figure.set_size_inches(WIDTH_INCHES, 0.9 + ROW_INCHES * max(rows, 1))


CHARTS: dict[str, Callable[[Json], Figure]] = {
    "ranges": ranges,
    "conditions": conditions,
    "steps": steps,
}
