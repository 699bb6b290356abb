"""When a digest is due, and which period it is of, in the reader's own time zone.

A digest is of a local day or ISO week, so that whoever changes the hour gets none twice. Where the
clock is put forward over the hour, it comes as soon as that hour would have been; where the hour
comes twice, at the first time (PEP 495).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from apps.notifications.models import DigestEmail, Rhythm

Occasion = DigestEmail.Occasion

# What is told at once is gathered for so long, so that an afternoon's notes make few mails.
GATHERED = timedelta(minutes=4)


@dataclass(frozen=True)
class Due:
    """A moment in UTC and the name of its period."""

    at: datetime
    period: str


def dues(rhythm: str, *, after: datetime, zone: ZoneInfo, hour: int, weekday: int) -> Iterator[Due]:
    """The coming moments of this rhythm, each after `after` and of a period of its own."""
    match rhythm:
        case Rhythm.AT_ONCE:
            yield from _stretches(after)
        case Rhythm.DAILY:
            for day in _days(after.astimezone(zone).date()):
                if (at := moment(day, hour, zone)) > after:
                    yield Due(at, day.isoformat())
        case Rhythm.WEEKLY:
            for day in _days(after.astimezone(zone).date()):
                if day.isoweekday() == weekday and (at := moment(day, hour, zone)) > after:
                    year, week, _ = day.isocalendar()
                    yield Due(at, f"{year}-W{week:02}")


def _days(day: date) -> Iterator[date]:
    while True:
        yield day
        day += timedelta(days=1)


def _stretches(after: datetime) -> Iterator[Due]:
    stretch = GATHERED.total_seconds()
    n = after.timestamp() // stretch
    while True:
        n += 1
        at = datetime.fromtimestamp(n * stretch, UTC)
        yield Due(at, f"{at:%Y-%m-%dT%H:%MZ}")


def moment(day: date, hour: int, zone: ZoneInfo) -> datetime:
    """The hour of a local day, in UTC."""
    return datetime.combine(day, time(hour), tzinfo=zone).astimezone(UTC)
