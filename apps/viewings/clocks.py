"""The time of a finding, corrected for phones with wrong clocks."""

from dataclasses import dataclass
from datetime import datetime, timedelta

# A request may take this long, and a clock set by hand is no better.
TOLERATED = timedelta(minutes=2)
# A visit may start before its recorded time.
EARLY = timedelta(days=1)


@dataclass(frozen=True)
class SeenAt:
    """`at`: the plausible time of the finding. `stated`: the clock's time if that is impossible."""

    at: datetime | None = None
    stated: datetime | None = None


def ahead(sent_at: datetime | None, received_at: datetime) -> timedelta:
    """How far a sender's clock is ahead (or behind), from the time it showed when sending."""
    off = sent_at - received_at if sent_at else timedelta()
    return off if abs(off) > TOLERATED else timedelta()


def seen(
    stated: datetime | None, *, clock_ahead: timedelta, visit: datetime, received_at: datetime
) -> SeenAt:
    """The stated time, corrected for the clock's error and kept between visit and receipt."""
    if stated is None:
        return SeenAt()
    try:
        meant = stated - clock_ahead
    except OverflowError:  # a clock in the year 1 or 9999
        meant = stated
    begun = min(visit, received_at)
    at = begun if meant < begun - EARLY else min(meant, received_at)
    return SeenAt(at, stated if abs(stated - at) > TOLERATED else None)
