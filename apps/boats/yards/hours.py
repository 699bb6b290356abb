"""Opening hours: spans of local time by weekday, as moments of one day.

Local times follow the yard's time zone, so that a span is an hour shorter or longer on the day the
clocks change. A span never goes past midnight; longer hours are two spans.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d|24:00")
MOST_SPANS = 6  # in one day
MOST_CLOSED_DAYS = 400

Span = tuple[datetime, datetime]


def open_spans(
    opening_hours: Mapping[str, Any] | None,
    closed_on: Sequence[str],
    time_zone: str,
    day: date,
) -> list[Span] | None:
    """Open spans of the day, in UTC, earliest first; empty: closed; None: not known."""
    if day.isoformat() in closed_on:
        return []
    if opening_hours is None:
        return None
    zone = ZoneInfo(time_zone)
    spans = [
        (moment(day, one["opens"], zone), moment(day, one["closes"], zone))
        for one in opening_hours.get(WEEKDAYS[day.weekday()], ())
    ]
    # A span within the hour that the clocks skip is dropped.
    return [(opens, closes) for opens, closes in sorted(spans) if opens < closes]


def moment(day: date, clock: str, zone: ZoneInfo) -> datetime:
    """The moment of a local time on the day, in UTC. 24:00 is the midnight after it.

    A time that the clocks skip counts from midnight (PEP 495, fold 0); of one that occurs twice it
    is the first.
    """
    if clock == "24:00":
        day, clock = day + timedelta(days=1), "00:00"
    hours, minutes = map(int, clock.split(":"))
    return datetime.combine(day, time(hours, minutes), zone).astimezone(UTC)


@dataclass(frozen=True)
class SpanFault:
    index: int
    code: str
    detail: str


def span_faults(spans: Sequence[Mapping[str, str]]) -> list[SpanFault]:
    """The faults in the spans of one day."""
    faults = []
    earlier: Mapping[str, str] | None = None
    for index, one in enumerate(spans):
        if one["opens"] >= one["closes"]:
            faults.append(
                SpanFault(
                    index,
                    "ends_before_it_starts",
                    "The closing time must be after the opening time.",
                )
            )
        elif earlier is not None and one["opens"] < earlier["closes"]:
            faults.append(
                SpanFault(index, "overlaps", "The spans of a day must be in order and not overlap.")
            )
        earlier = one
    return faults


@cache
def time_zones() -> frozenset[str]:
    """Every name of the IANA database that is a place or UTC."""
    return frozenset(available_timezones())
