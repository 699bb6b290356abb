"""Dates, names and money in the words of reports."""

from collections.abc import Iterable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from apps.viewings.models import Viewing


def day(when: date | datetime | str) -> str:
    """'5 March 2026'."""
    known = datetime.fromisoformat(when) if isinstance(when, str) else when
    return f"{known.day} {known:%B %Y}"


def moment(when: datetime | None, zone: str) -> str:
    """'5 March 2026, 09:30 UTC': with the time zone, for readers elsewhere."""
    if when is None:
        return "never"
    there = when.astimezone(ZoneInfo(zone))
    return f"{day(there)}, {there:%H:%M} {there:%Z}"


def listed(names: Iterable[str]) -> str:
    """'Tern, Skua and Petrel'."""
    *first, last = [*names] or [""]
    return f"{', '.join(first)} and {last}" if first else last


def count(number: int, one: str, many: str = "") -> str:
    """'1 boat', '3 boats', 'no boats'."""
    many = many or f"{one}s"
    return f"{number or 'no'} {one if number == 1 else many}"


def ended(text: str) -> str:
    """A sentence with a full stop, unless it ends with a mark of its own."""
    return text if text.endswith(("?", "!", ".")) else f"{text}."


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def clock(when: datetime, zone: str) -> str:
    """'09:30 CET', in local time."""
    there = when.astimezone(ZoneInfo(zone))
    return f"{there:%H:%M} {there:%Z}"


def sea_trial_in_words(trial: Viewing | None) -> str:
    """'made on 3 May 2026'."""
    if trial is None:
        return "none was made"
    made = trial.state == Viewing.State.MADE
    return f"{'made on' if made else 'planned for'} {day(trial.starts_at)}"


def position(place: tuple[float, float]) -> str:
    """'54.1000 N, 10.2000 W': about ten metres."""
    latitude, longitude = place
    return (
        f"{abs(latitude):.4f} {'N' if latitude >= 0 else 'S'}, "
        f"{abs(longitude):.4f} {'E' if longitude >= 0 else 'W'}"
    )
