"""The topics of the sheet, from fixtures/ownership/agreement.toml."""

import tomllib
from dataclasses import dataclass
from functools import cache

from django.conf import settings

NO_LEGAL_ADVICE = (
    "No legal advice. These are questions that owners usually settle, in your own words. The law "
    "of the place governs, and some of it cannot be agreed away: have a lawyer there read the "
    "sheet before money moves."
)


@dataclass(frozen=True)
class Topic:
    """One thing to agree. question: what to settle; mind: what is usually forgotten."""

    code: str
    title: str
    question: str
    mind: str


@cache
def topics() -> dict[str, Topic]:
    """By code, in the order of the sheet."""
    path = settings.BASE_DIR / "fixtures" / "ownership" / "agreement.toml"
    entries = tomllib.loads(path.read_text())["topic"]
    return {entry["code"]: Topic(**entry) for entry in entries}
