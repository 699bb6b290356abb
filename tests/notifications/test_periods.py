"""When digests are due, over changes of the clock.

The rules of the clock: PEP 495 and the IANA time zone database. In Berlin the clock was put forward
from 02:00 to 03:00 on 29 March 2026 and back from 03:00 to 02:00 on 25 October 2026 (EU directive
2000/84/EC: the last Sundays of March and October, at 01:00 UTC).
"""

from datetime import UTC, datetime, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.notifications.mail.periods import dues, moment

BERLIN = ZoneInfo("Europe/Berlin")


def at(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)


def coming(n: int, rhythm="daily", after=None, zone=BERLIN, hour=7, weekday=1):
    found = dues(rhythm, after=after, zone=zone, hour=hour, weekday=weekday)
    return [(due.at, due.period) for due in islice(found, n)]


def test_it_works():
    assert coming(2, after=at(2026, 1, 5, 12)) == [
        (at(2026, 1, 6, 6), "2026-01-06"),
        (at(2026, 1, 7, 6), "2026-01-07"),
    ]


def test_the_hour_stays_when_the_clock_changes():
    assert [one for one, _ in coming(3, after=at(2026, 3, 28, 0))] == [
        at(2026, 3, 28, 6),
        at(2026, 3, 29, 5),
        at(2026, 3, 30, 5),
    ]


def test_an_hour_that_does_not_exist_is_when_it_would_have_been():
    """02:00 of 29 March would have been 01:00 UTC: on the clock it is 03:00."""
    assert coming(2, after=at(2026, 3, 28, 2), hour=2) == [
        (at(2026, 3, 29, 1), "2026-03-29"),
        (at(2026, 3, 30, 0), "2026-03-30"),
    ]
    assert at(2026, 3, 29, 1).astimezone(BERLIN).hour == 3


def test_an_hour_that_comes_twice_is_used_once():
    """02:00 of 25 October is 00:00 UTC and again 01:00 UTC."""
    assert coming(2, after=at(2026, 10, 24, 12), hour=2) == [
        (at(2026, 10, 25, 0), "2026-10-25"),
        (at(2026, 10, 26, 1), "2026-10-26"),
    ]
    assert coming(1, after=at(2026, 10, 25, 0), hour=2) == [(at(2026, 10, 26, 1), "2026-10-26")]


def test_weeks_are_those_of_iso_8601_over_the_year():
    """1 January 2027 is a Friday and lies in week 53 of 2026 (ISO 8601 week dates)."""
    assert coming(2, "weekly", after=at(2026, 12, 28, 12), weekday=5, hour=18) == [
        (at(2027, 1, 1, 17), "2026-W53"),
        (at(2027, 1, 8, 17), "2027-W01"),
    ]


def test_what_is_told_at_once_is_gathered_for_minutes():
    first, second = coming(2, "at_once", after=at(2026, 1, 5, 12, 1))
    assert first == (at(2026, 1, 5, 12, 4), "2026-01-05T12:04Z")
    assert second[0] - first[0] == timedelta(minutes=4)


def test_never_is_never():
    assert coming(1, "never", after=at(2026, 1, 5, 12)) == []


@given(
    after=st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)),
    hour=st.integers(0, 23),
    zone=st.sampled_from(
        ["UTC", "Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "Pacific/Apia"]
    ),
    rhythm=st.sampled_from(["daily", "weekly"]),
)
def test_periods_never_come_twice_and_moments_only_go_forward(after, hour, zone, rhythm):
    found = coming(9, rhythm, after=after.replace(tzinfo=UTC), zone=ZoneInfo(zone), hour=hour)
    moments, periods = zip(*found, strict=True)
    assert moments[0] > after.replace(tzinfo=UTC)
    assert list(moments) == sorted(set(moments))
    assert len(set(periods)) == len(periods)


@pytest.mark.parametrize("hour", range(24))
def test_every_hour_of_every_day_has_its_moment(hour):
    day = at(2026, 3, 29).date()
    local = moment(day, hour, BERLIN).astimezone(BERLIN)
    assert (local.date(), local.hour) == (day, 3 if hour == 2 else hour)
