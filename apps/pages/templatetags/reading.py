"""Figures on pages in the words of sentences: rounded sums, shares, moments, levels."""

from datetime import datetime
from decimal import Decimal
from typing import Literal

from django import template
from django.template import Context
from django.utils import timezone
from django.utils.html import format_html

from apps.appraisal.stored.parts import Range
from apps.appraisal.words import phrases
from apps.boats.exchange_rates import converted
from apps.catalogue.vocabulary import REASONS
from apps.common import wording
from apps.common.units import Units, units_shown
from apps.reckoning.ratios import METRES_PER_FOOT
from apps.reports import words
from apps.reports.boat_sheet import LEVEL_NAMES
from apps.reports.words import capital, count

METRES_PER_MILE = 5280 * METRES_PER_FOOT  # exactly, by the agreement of 1959

register = template.Library()
register.filter("about", phrases.about)
register.filter("article", phrases.article)
register.filter("capital", capital)
register.filter("ended", words.ended)
register.filter("lead", wording.lead)
register.filter("percent", wording.percent)
register.filter("sentences", wording.sentences_in)


@register.filter
def amount(range_: Range, which: Literal["low", "likely", "high", "mean"]) -> str:
    """Low, likely, high or mean of a range."""
    return phrases.amount(range_, which)


@register.simple_tag(takes_context=True)
def also(context: Context, amount: Decimal | str, currency: str) -> str:
    """' (about 27,000 EUR)' beside an amount: in the reader's own currency, if they named another
    and the list has a rate for it; else nothing."""
    wanted = context["person"].currency
    if not wanted or wanted == currency:
        return ""
    there = converted(context["list"], Decimal(amount), currency, wanted)
    if there is None:
        return ""
    text = phrases.about_amount(float(there), wanted)
    return format_html(' <span class="quiet">(about {})</span>', text)


@register.filter
def road(metres: float) -> str:
    """'120 km', or '75 mi' for a reader of feet: statute miles, as on roads."""
    if units_shown() is Units.IMPERIAL:
        return f"{metres / METRES_PER_MILE:.0f} mi"
    return f"{metres / 1000:.0f} km"


@register.filter
def level(number: int) -> str:
    return LEVEL_NAMES[number]


@register.filter
def reason(code: str) -> str:
    return REASONS.get(code, code.replace("_", " "))


@register.filter
def degrees(angle: float) -> str:
    """For a field: to a metre, with a point in every language."""
    return str(round(angle, 5))


@register.filter
def spaced(code: str) -> str:
    """A code of several words as people write it."""
    return code.replace("_", " ").replace("-", " ")


@register.filter
def moment(when: datetime | str | None) -> str:
    """'5 March 2026, 09:30' on the reader's clock."""
    if not when:
        return "never"
    known = datetime.fromisoformat(when) if isinstance(when, str) else when
    there = timezone.localtime(known)
    return f"{there.day} {there:%B %Y, %H:%M}"


@register.filter
def day(when: datetime | str) -> str:
    """The day on the reader's clock; that of a document is the same everywhere."""
    known = datetime.fromisoformat(when) if isinstance(when, str) else when
    return words.day(timezone.localtime(known) if timezone.is_aware(known) else known)


@register.filter
def counted(number: int, one: str) -> str:
    """'1 boat', '3 boats', 'no boats'; 'person,people' names both."""
    single, _, many = one.partition(",")
    return count(number, single, many)


@register.filter
def remedy(code: str, titles: list[tuple[str, str]]) -> str:
    return dict(titles).get(code) or spaced(code)
