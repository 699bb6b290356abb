"""When something was seen, by clocks of phones that may be wrong."""

from dataclasses import dataclass
from datetime import datetime, timedelta

# A request may be that long on its way, and no clock is set better than by hand.
TOLERATED = timedelta(minutes=2)
# A visit may begin before the time that was noted for it.
EARLY = timedelta(days=1)


@dataclass(frozen=True)
class SeenAt:
    """`at`: when it was seen, as far as that can be right. `stated`: by the clock, if it cannot."""

    at: datetime | None = None
    stated: datetime | None = None


def ahead(sent_at: datetime | None, received_at: datetime) -> timedelta:
    """By how much a sender's clock is ahead (or behind), who says what it shows when sending."""
    off = sent_at - received_at if sent_at else timedelta()
    return off if abs(off) > TOLERATED else timedelta()


def seen(
    stated: datetime | None, *, clock_ahead: timedelta, visit: datetime, received_at: datetime
) -> SeenAt:
    """Not later than it was received, nor before the visit; the clock's own error taken off."""
    if stated is None:
        return SeenAt()
    try:
        meant = stated - clock_ahead
    except OverflowError:  # a clock in the year 1 or 9999
        meant = stated
    begun = min(visit, received_at)
    at = begun if meant < begun - EARLY else min(meant, received_at)
    return SeenAt(at, stated if abs(stated - at) > TOLERATED else None)
