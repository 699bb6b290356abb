"""The units in which sizes are shown. SI is what is stored."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from django.db.models import TextChoices


class Units(TextChoices):
    SI = "si", "metric: metres, kilograms and kilometres"
    IMPERIAL = "imperial", "imperial: feet, pounds and miles"


_shown: ContextVar[str] = ContextVar("units", default=Units.SI)


@contextmanager
def units_shown_as(units: str) -> Iterator[None]:
    """Show sizes in these units within the block, as `timezone.override` does with times."""
    token = _shown.set(units)
    try:
        yield
    finally:
        _shown.reset(token)


def units_shown() -> Units:
    return Units(_shown.get())
