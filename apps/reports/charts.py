"""The pictures of reports, sized for paper or for a page. Each has a description in words.

The plotting library loads slowly, so this module is imported only where a picture is drawn.
"""

import io
from collections.abc import Callable, Mapping
from typing import Any

import matplotlib
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from apps.appraisal.board.pictures import (
    SMALL_LETTERS,
    board_figure,
    name_rows,
    right_of,
    waterfall_figure,
)
from apps.common.drawing import BLUE
from apps.common.processes.keeping import kept_by_content
from apps.common.wording import percent
from apps.reports.content import ConditionsDrawn, Picture, RangesDrawn, StepsDrawn
from apps.reports.lettering import drawable, everywhere, settable

PAPER_INCHES, PAPER_ROW_INCHES, PAPER_LETTERS = 7.2, 0.28, 8.5
# People read pages on telephones too, which would shrink a wider picture until nobody can read it.
PAGE_INCHES, PAGE_ROW_INCHES = 5.6, 0.4


Sized = tuple[Figure, int]  # a picture and how many rows it has


def svg_of(picture: Picture, *, outlines: bool) -> str:
    """An SVG without its prolog. outlines: letters as shapes, which need no fonts."""
    return _drawn(picture.chart, picture.drawn_from, outlines)


@kept_by_content
def _drawn(chart: str, drawn_from: Mapping[str, object], outlines: bool) -> str:
    letters = drawable if outlines else str
    figure, rows = CHARTS[chart](everywhere(lambda text: letters(settable(text)), drawn_from))
    _fit(figure, rows, paper=outlines)
    out = io.BytesIO()
    with matplotlib.rc_context({"svg.fonttype": "path" if outlines else "none"}):
        figure.savefig(out, format="svg", metadata={"Date": None})
    text = out.getvalue().decode()
    return text[text.index("<svg") :]


def ranges(drawn_from: RangesDrawn) -> Sized:
    """Costs up front against the budget. `span`: the same scale for all pictures of a list."""
    rows = drawn_from["candidates"]
    figure = board_figure(rows, drawn_from["budget"], drawn_from["currency"])
    (axes,) = figure.axes
    axes.set_xlim(*drawn_from["span"])
    axes.set_xlabel(f"cost up front, {drawn_from['currency']}")
    return figure, len(rows)


def conditions(drawn_from: ConditionsDrawn) -> Sized:
    """Condition from 0 to 100 with its interval, and the share that was looked at."""
    rows = drawn_from["candidates"]
    figure = Figure(layout="constrained")
    axes = figure.subplots()
    for y, row in enumerate(rows):
        found = row["condition"]
        score, low, high = found["score"], found["low"], found["high"]
        if score is None or low is None or high is None:
            axes.text(2, y, "not known yet", va="center", style="italic")
            continue
        axes.plot((low, high), (y, y), color=BLUE, linewidth=3, solid_capstyle="butt")
        axes.plot([score], [y], marker="o", markersize=7, color=BLUE)
        right_of(axes, y, f"{percent(found['coverage'] or 0)}\nlooked at")
    name_rows(axes, [(row["place"], row["name"]) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(0, 100)
    axes.set_xticks(range(0, 101, 20))
    axes.set_xlabel("condition: 0 all failed, 100 nothing wrong", fontsize=SMALL_LETTERS)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(axis="y", length=0)
    return figure, len(rows)


def steps(drawn_from: StepsDrawn) -> Sized:
    """From the asking price to the all-in cost of one boat."""
    figure = waterfall_figure(drawn_from["waterfall"])
    (axes,) = figure.axes
    axes.set_xlabel(drawn_from["currency"])
    axes.xaxis.set_major_locator(MaxNLocator(4))
    return figure, len(drawn_from["waterfall"]) + 2


def _fit(figure: Figure, rows: int, *, paper: bool) -> None:
    width, row = (PAPER_INCHES, PAPER_ROW_INCHES) if paper else (PAGE_INCHES, PAGE_ROW_INCHES)
    figure.set_size_inches(width, 0.9 + row * max(rows, 1))
    if paper:  # paper does not shrink it: letters have the size of the text
        for axes in figure.axes:
            for text in (*axes.get_yticklabels(), *axes.texts):
                text.set_fontsize(min(text.get_fontsize(), PAPER_LETTERS))


CHARTS: Mapping[str, Callable[[Any], Sized]] = {
    "ranges": ranges,
    "conditions": conditions,
    "steps": steps,
}
