"""Values of the database as JSON can hold them, so that nothing is rounded."""

from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID


def plain(value: Any) -> Any:
    """The JSON value: times in UTC (RFC 3339), amounts as text."""
    match value:
        case datetime():
            return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
        case date() | time() | UUID():
            return str(value)
        case Decimal():
            return f"{value:f}"
    return value
