"""Template filters for the statistics' figures."""

from django import template

from apps.common.wording import percent
from apps.outcomes.answer import FigureRead
from apps.outcomes.kinds import TITLES
from apps.outcomes.sentences import interval

register = template.Library()
NOTHING = "–"  # noqa: RUF001


@register.filter
def share(part: float | None) -> str:
    return NOTHING if part is None else percent(part)


@register.filter
def share_within(figure: FigureRead | None) -> str:
    return f"{percent(figure['figure'])} ({interval(figure)})" if figure else NOTHING


@register.filter
def within(figure: FigureRead | None) -> str:
    if not figure:
        return NOTHING
    return f"{figure['figure']:.2f} ({figure['low']:.2f} to {figure['high']:.2f})"


@register.filter
def respect(by: str) -> str:
    return TITLES.get(by, "")
