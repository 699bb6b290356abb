"""The due times and periods of digests, in the reader's own time zone.

A digest belongs to a local day or ISO week, so nobody gets two by changing the hour. If the clock
skips the hour, the digest comes at the moment when that hour would have been; if the hour comes
twice, at the first one (PEP 495).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from apps.notifications.models import DigestEmail, Rhythm

Occasion = DigestEmail.Occasion

# `at_once` collects for this long, so that an afternoon's notes make few mails.
GATHERED = timedelta(minutes=4)


@dataclass(frozen=True)
class Due:
    """A moment in UTC and the name of its period."""

    at: datetime
    period: str


def dues(rhythm: str, *, after: datetime, zone: ZoneInfo, hour: int, weekday: int) -> Iterator[Due]:
    """The next moments of this rhythm after `after`, each in its own period."""
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
