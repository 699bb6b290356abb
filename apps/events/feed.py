"""The change feed: events of some groups after a cursor, in commit order, without gaps.

Each group numbers its events under a lock that is held until commit (`services.event_record`), so a
reader who sees number n can also see all numbers before it. A cursor has one number for each group.
There is no order between groups, because nothing belongs to two of them.
"""

import base64
import binascii
import struct
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db.models import Q

from apps.common.errors import Gone, Invalid
from apps.events.models import Event, EventSequence

Positions = Mapping[uuid.UUID, int]

CURSOR_FORM = b"\x01"  # first byte of every cursor, to recognise other forms
ENTRY = struct.Struct(">16sQ")  # a group and its number


@dataclass(frozen=True)
class EventPage:
    """Events of one page; `positions` start the next page, `more` says whether there is one."""

    events: list[Event]
    positions: dict[uuid.UUID, int]
    more: bool


def cursor_of(positions: Positions) -> str:
    entries = (ENTRY.pack(group.bytes, number) for group, number in sorted(positions.items()))
    return base64.urlsafe_b64encode(CURSOR_FORM + b"".join(entries)).rstrip(b"=").decode()


def positions_of(cursor: str) -> dict[uuid.UUID, int]:
    """The positions in a cursor. Raises `Invalid` at ?since if the service did not make it."""
    try:
        packed = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        if packed[:1] != CURSOR_FORM:
            raise ValueError("a cursor of another form")
        entries = list(ENTRY.iter_unpack(packed[1:]))
    except (binascii.Error, struct.error, ValueError) as error:
        raise Invalid.at("?since", "bad_cursor", "Take it from `cursor` of an answer.") from error
    return {uuid.UUID(bytes=group): number for group, number in entries}


def last_numbers(groups: Collection[uuid.UUID]) -> dict[uuid.UUID, int]:
    """Each group's last number. Read the group's data after this, and no change is missed."""
    rows = EventSequence.objects.filter(group__in=groups).values_list("group", "last")
    return dict.fromkeys(groups, 0) | dict(rows)


def events_after(
    positions: Positions,
    *,
    reader: uuid.UUID,
    limit: int,
    things: Collection[str] | None = None,
) -> EventPage:
    """The next events of these groups that the reader may see. Two queries.

    limit: at least 1. things: the kinds of record; None for all. Raises `Gone` if events after a
    position are not kept any more, or if the position was never reached, as after restoring a
    backup.
    """
    # Read before the events, so that all events up to these numbers are committed.
    sequences = {
        sequence.group: sequence for sequence in EventSequence.objects.filter(group__in=positions)
    }
    behind = Q()
    for group, number in positions.items():
        sequence = sequences.get(group) or EventSequence(group=group)
        if not sequence.has_reached(number):
            raise Gone(
                "cursor_too_old",
                "Changes since then are not kept. Ask without `since`, and read everything again.",
            )
        if number < sequence.last:
            behind |= Q(group=group, number__gt=number)
    if not behind:
        return EventPage([], dict(positions), more=False)
    seen = Q(only_for=None) | Q(only_for=reader)
    rows = Event.objects.filter(behind, seen).order_by("group", "number")
    if things is not None:
        rows = rows.filter(thing__in=things)
    found = list(rows[: limit + 1])
    events = found[:limit]
    newest = {event.group: event.number for event in events}
    more = len(found) > len(events)
    # If all of a group's events are on this page, its position is its last number, which skips
    # events that this reader may not see.
    complete = newest.keys() - {events[-1].group} if more else sequences.keys()
    at = dict(positions) | newest
    return EventPage(
        events, at | {group: max(at[group], sequences[group].last) for group in complete}, more
    )
