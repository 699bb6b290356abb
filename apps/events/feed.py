"""The change feed: what happened in some groups after a cursor, in commit order, without gaps.

Each group counts its events under a lock that is held until commit (`services.event_record`), so
whoever sees number n of a group sees, or saw, all numbers before it. A cursor holds one number for
each group. Between groups there is no order, for nothing belongs to two of them.
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

CURSOR_FORM = b"\x01"  # first byte of every cursor: another form can be told from this one
ENTRY = struct.Struct(">16sQ")  # a group and its number


@dataclass(frozen=True)
class EventPage:
    """Events of one page; `positions` are where to go on from, `more` whether there is more."""

    events: list[Event]
    positions: dict[uuid.UUID, int]
    more: bool


def cursor_of(positions: Positions) -> str:
    entries = (ENTRY.pack(group.bytes, number) for group, number in sorted(positions.items()))
    return base64.urlsafe_b64encode(CURSOR_FORM + b"".join(entries)).rstrip(b"=").decode()


def positions_of(cursor: str) -> dict[uuid.UUID, int]:
    """Raises `Invalid` at ?since if the service never made this cursor."""
    try:
        packed = base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        if packed[:1] != CURSOR_FORM:
            raise ValueError("a cursor of another form")
        entries = list(ENTRY.iter_unpack(packed[1:]))
    except (binascii.Error, struct.error, ValueError) as error:
        raise Invalid.at("?since", "bad_cursor", "Take it from `cursor` of an answer.") from error
    return {uuid.UUID(bytes=group): number for group, number in entries}


def last_numbers(groups: Collection[uuid.UUID]) -> dict[uuid.UUID, int]:
    """Where each group is now; read what it holds after this, and no change is missed."""
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

    limit: at least 1. things: the kinds of record asked for; None for all. Raises `Gone` if events
    after a position are not kept any more, or the position was never reached: that happens when
    older data was put back.
    """
    # Read before the events: all up to these numbers are committed when the events are read.
    sequences = {
        sequence.group: sequence for sequence in EventSequence.objects.filter(group__in=positions)
    }
    behind = Q()
    for group, number in positions.items():
        sequence = sequences.get(group) or EventSequence(group=group)
        if not sequence.pruned <= number <= sequence.last:
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
    # A group whose events are all on this page is read up to where its clock stood: numbers that
    # this reader may not see are passed over with the rest.
    complete = newest.keys() - {events[-1].group} if more else sequences.keys()
    at = dict(positions) | newest
    return EventPage(
        events, at | {group: max(at[group], sequences[group].last) for group in complete}, more
    )
