"""Opening hours as moments of a day.

Clock changes: Berlin goes from 02:00 to 03:00 on 2025-03-30 and back from 03:00 to 02:00 on
2025-10-26 (Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC).
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from apps.boats.yards.hours import moment, open_spans

BERLIN = ZoneInfo("Europe/Berlin")
ALL_WEEK = {
    day: [{"opens": "00:00", "closes": "24:00"}]
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
}


def spans(day: date, hours=None, closed=()):
    return open_spans(hours, closed, "Europe/Berlin", day)


def test_local_time_becomes_utc():
    monday = {"monday": [{"opens": "08:00", "closes": "12:00"}]}
    winter, summer = spans(date(2025, 1, 6), monday), spans(date(2025, 7, 7), monday)
    assert winter == [(datetime(2025, 1, 6, 7, tzinfo=UTC), datetime(2025, 1, 6, 11, tzinfo=UTC))]
    assert summer == [(datetime(2025, 7, 7, 6, tzinfo=UTC), datetime(2025, 7, 7, 10, tzinfo=UTC))]


def test_closed_is_not_unknown():
    assert spans(date(2025, 1, 7), {"monday": [{"opens": "08:00", "closes": "12:00"}]}) == []
    assert spans(date(2025, 1, 7)) is None
    assert spans(date(2025, 1, 7), ALL_WEEK, ["2025-01-07"]) == []
    assert spans(date(2025, 1, 7), None, ["2025-01-07"]) == []


def test_days_on_which_the_clocks_change():
    def length(day: date) -> timedelta:
        (one,) = spans(day, ALL_WEEK)
        return one[1] - one[0]

    assert length(date(2025, 3, 30)) == timedelta(hours=23)
    assert length(date(2025, 10, 26)) == timedelta(hours=25)
    assert length(date(2025, 6, 1)) == timedelta(hours=24)


def test_a_time_the_clocks_leave_out_or_show_twice():
    assert moment(date(2025, 3, 30), "02:30", BERLIN) == datetime(2025, 3, 30, 1, 30, tzinfo=UTC)
    assert moment(date(2025, 10, 26), "02:30", BERLIN) == datetime(2025, 10, 26, 0, 30, tzinfo=UTC)
    # Nothing is open in an hour that the clock skips.
    gone = {"sunday": [{"opens": "02:15", "closes": "03:15"}]}
    assert spans(date(2025, 3, 30), gone) == []
