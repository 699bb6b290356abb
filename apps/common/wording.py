"""Words that several apps share: the cautions, and figures in sentences."""

import re
from decimal import Decimal

NOT_A_SURVEY = "A screening by non-experts is not a survey."
PRACTICE_FIRST = "Yard rules, local codes and licensed practice come first."
FOR_THE_PROFESSIONAL = (
    "Structure, flooding and safety are for the professional named to judge, before money changes "
    "hands and before anybody sails."
)


# Between two sentences: the next one begins with a capital letter.
BETWEEN = re.compile(r"(?<=[.?!])\s+(?=[A-ZÀ-ÖØ-Þ])")


def sentences_in(text: str) -> list[str]:
    """The sentences of a text, to show a long one as a list."""
    return BETWEEN.split(text)


def lead(title: str, mark: str = ":") -> str:
    """A title before a statement about it: 'Keel bolts:', but 'Does the keel move?'."""
    return title if title.endswith("?") else f"{title}{mark}"


def sum_of(amount: Decimal, currency: str) -> str:
    """'28,400.01 USD', '28,400 USD': an amount that people named, to the cent."""
    return f"{f'{amount:,.2f}'.removesuffix('.00')} {currency}"


def money(amount: float, currency: str) -> str:
    """'31,000 USD': without cents, with thousands separators."""
    return f"{amount:,.0f} {currency}"


def percent(chance: float) -> str:
    """A percentage that is '0%' or '100%' only if the chance is exactly that."""
    if 0 < chance < 0.005:
        return "under 1%"
    if 0.995 < chance < 1:
        return "over 99%"
    return f"{chance:.0%}"
