"""The queue of open requests, with only what is needed to choose.

Before taking a request people see the kind of boat, the rounded place, the wanted date, the value
of a look, and the question. They do not see the group's names of boat and yard, the group, who
asks, or the buyers' opinions. Distances are measured from the rounded place, because several exact
distances would reveal the exact place.
"""

import base64
import binascii
import json
import uuid
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.appraisal.looks.look_values import LookValue, look_values
from apps.boats.exchange_rates import rate
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.vocabulary import SETTLED
from apps.boats.yards.models import Yard
from apps.catalogue.selectors import club_snapshot
from apps.common.errors import FieldFault, Invalid, NotVisible
from apps.groups.rules import ClubAction, require_in_club
from apps.http.fields import CurrencyAmount
from apps.second_opinions.access import (
    ADVISING,
    requests_of_club,
    requests_open_to,
    yard_days_of,
)
from apps.second_opinions.models import SecondOpinionRequest, Step
from apps.second_opinions.places import Place, RoughPlace, distance_km, rough
from apps.second_opinions.settings import club_opinion_settings
from apps.second_opinions.workload import free_advisers

ORDERS = ("value", "date", "place")
VALUE_DIGITS = 2  # how urgent, not how much the group has
Key = list[Any]  # plain values, compared from left to right


@dataclass(frozen=True)
class QueuedRequest:
    """One request as people see it before taking it."""

    id: uuid.UUID
    version: int
    question: str
    checkpoints: list[str]
    wanted_by: date | None
    loa_m: int | None  # to the metre
    hull_material: str
    keel: str
    yard: Yard | None  # if it is one of the club's
    place: RoughPlace | None
    distance_km: int | None
    value: CurrencyAmount | None
    value_compared: CurrencyAmount | None
    offered_to_you: bool
    created_at: datetime
    # Only for the secretary.
    offered_to: Person | None = None
    suggested: Person | None = None


@dataclass(frozen=True)
class QueuePage:
    rows: list[QueuedRequest]
    next: str | None


def second_opinion_queue(
    person: Person,
    club_id: uuid.UUID,
    *,
    order: str,
    limit: int,
    cursor: str = "",
    here: Place | None = None,
    whole: bool = False,
) -> QueuePage:
    """One page of the requests that the person may take in a club. Constant queries.

    here: the point for distances; required for the order by place. whole: all open requests, for
    the secretary, with the adviser who has the fewest.
    """
    require_in_club(person, ClubAction.MANAGE if whole else ClubAction.ADVISE, club_id)
    if order == "place" and here is None:
        raise Invalid([FieldFault("?latitude", "required", "Say from where.")])
    waiting = waiting_at(club_id) if whole else takeable(person, club_id)
    requests = list(waiting.order_by("pk"))
    currency = club_opinion_settings(club_id).currency or commonest_currency(club_id)
    rows = rows_of(requests, person, here=here, currency=currency)
    found = page_from(rows, order, limit=limit, cursor=cursor)
    if whole:
        return replace(found, rows=_for_the_secretary(club_id, found.rows, requests))
    return found


# --- Which ---------------------------------------------------------------------------------------


def waiting_at(club_id: uuid.UUID) -> QuerySet[SecondOpinionRequest]:
    """All requests that wait in a club."""
    return _with_boats(requests_of_club(club_id).filter(state=SecondOpinionRequest.State.WAITING))


def takeable(person: Person, club_id: uuid.UUID) -> QuerySet[SecondOpinionRequest]:
    """The requests that this person may take: none they had or declined, none offered to another,
    none of their own groups."""
    had = Step.objects.filter(
        by=person,
        kind__in=(Step.Kind.TAKEN, Step.Kind.DECLINED),
        request__candidate=OuterRef("candidate"),
        request__yard_day=None,
    )
    return _with_boats(
        requests_open_to(person)
        .filter(club=club_id, yard_day=None, state=SecondOpinionRequest.State.WAITING)
        .filter(Q(offered_to=person) | Q(offered_to=None) & ~Q(Exists(had)))
    )


def asked_on_day(
    person: Person, yard_day_id: uuid.UUID, *, limit: int, cursor: str = ""
) -> QueuePage:
    """Others' requests for a yard day, for the person who goes. Constant queries."""
    if not yard_days_of(person).filter(pk=yard_day_id).exists():
        raise NotVisible
    requests = requests_open_to(person).filter(
        yard_day=yard_day_id, state=SecondOpinionRequest.State.WAITING
    )
    rows = rows_of(_with_boats(requests), person)
    return page_from(rows, "date", limit=limit, cursor=cursor)


def _with_boats(requests: QuerySet[SecondOpinionRequest]) -> QuerySet[SecondOpinionRequest]:
    """The requests with what `rows_of` reads, without settled boats."""
    return requests.exclude(candidate__stage__in=SETTLED).select_related(
        "candidate__list", "candidate__at_yard", "offered_to"
    )


# --- What is shown -------------------------------------------------------------------------------


def rows_of(
    requests: Iterable[SecondOpinionRequest],
    person: Person,
    *,
    here: Place | None = None,
    currency: str = "",
) -> list[QueuedRequest]:
    """Open requests within one club. Constant queries."""
    requests = list(requests)
    if not requests:
        return []
    values = look_values([request.candidate_id for request in requests])
    # Entries only in a group's own catalogue are the group's own words.
    decoded = club_snapshot(requests[0].open_within).catalogue.checkpoints.keys()
    rows = [
        _row(request, person, values.get(request.candidate_id), here, currency)
        for request in requests
    ]
    return [
        replace(row, checkpoints=[code for code in row.checkpoints if code in decoded])
        for row in rows
    ]


def _row(
    request: SecondOpinionRequest,
    person: Person,
    value: LookValue | None,
    here: Place | None,
    currency: str,
) -> QueuedRequest:
    boat = request.candidate
    place = rough(boat.position)
    amount = None if value is None else value.of(request.checkpoints)
    compared = None if amount is None else in_currency(amount, boat, currency)
    return QueuedRequest(
        id=request.pk,
        version=request.version,
        question=request.question,
        checkpoints=request.checkpoints,
        wanted_by=request.wanted_by,
        loa_m=None if boat.loa_m is None else round(boat.loa_m),
        hull_material=boat.hull_material,
        keel=boat.keel,
        yard=boat.at_yard if boat.at_yard and boat.at_yard.club_id == request.club_id else None,
        place=place,
        distance_km=_distance(here, place),
        value=None if amount is None else CurrencyAmount(coarse(amount), boat.list.currency),
        value_compared=None if compared is None else CurrencyAmount(coarse(compared), currency),
        offered_to_you=request.offered_to_id == person.pk,
        created_at=request.created_at,
    )


def commonest_currency(club_id: uuid.UUID) -> str:
    """The currency of most lists in the club. Not of the waiting requests: with those the order
    could change between two pages."""
    lists = CandidateList.objects.filter(group__club=club_id)
    counted = Counter(lists.values_list("currency", flat=True))
    return min(counted, key=lambda currency: (-counted[currency], currency), default="")


def in_currency(amount: Decimal, boat: Candidate, currency: str) -> Decimal | None:
    """An amount of the boat's list in another currency, at the rate of the list's own brief.

    None without a rate: the group agreed to no other.
    """
    one = rate(boat.list, currency) if currency else None
    return None if one is None else amount / one


def coarse(amount: Decimal) -> Decimal:
    """The amount to two significant figures: 1234 as 1200."""
    if amount <= 0:
        return Decimal(0)
    return amount.quantize(Decimal(1).scaleb(amount.adjusted() - VALUE_DIGITS + 1))


def _distance(here: Place | None, place: RoughPlace | None) -> int | None:
    if here is None or place is None:
        return None
    return round(distance_km(here, (place.latitude, place.longitude)))


def waiting_for_secretary(person: Person, request_id: uuid.UUID) -> SecondOpinionRequest:
    """A request in a club whose secretary the person is; 404 for others than advisers."""
    request = get_object_or_404(
        SecondOpinionRequest.objects.filter(
            yard_day=None,
            state__in=SecondOpinionRequest.OPEN,
            club__memberships__person=person,
            club__memberships__ended_at=None,
            club__memberships__role__in=ADVISING,
        ).select_related("candidate__list", "candidate__at_yard", "offered_to", "yard_day"),
        pk=request_id,
    )
    require_in_club(person, ClubAction.MANAGE, request.open_within)
    return request


def row_for_secretary(person: Person, request_id: uuid.UUID) -> QueuedRequest:
    request = waiting_for_secretary(person, request_id)
    club_id = request.open_within
    currency = club_opinion_settings(club_id).currency or commonest_currency(club_id)
    rows = rows_of([request], person, currency=currency)
    return _for_the_secretary(club_id, rows, [request])[0]


def _for_the_secretary(
    club_id: uuid.UUID, rows: list[QueuedRequest], requests: list[SecondOpinionRequest]
) -> list[QueuedRequest]:
    """Add to whom a request was offered, or the adviser with the fewest who may be asked."""
    by_id = {request.pk: request for request in requests}
    visible = [by_id[row.id] for row in rows]
    free = free_advisers(club_id, visible)
    return [
        replace(
            row,
            offered_to=request.offered_to,
            suggested=None if request.offered_to else next(iter(free[request.pk]), None),
        )
        for row, request in zip(rows, visible, strict=True)
    ]


# --- In which order ------------------------------------------------------------------------------


def page_from(rows: Iterable[QueuedRequest], order: str, *, limit: int, cursor: str) -> QueuePage:
    """The rows after the cursor. It names a position in the order, so it stays valid when its row
    is taken meanwhile."""
    keyed = sorted(((key_of(row, order), row) for row in rows), key=lambda one: one[0])
    if cursor:
        after = key_in(cursor, order)
        keyed = [(key, row) for key, row in keyed if key > after]
    visible = keyed[:limit]
    last = cursor_of(order, visible[-1][0]) if len(keyed) > limit else None
    return QueuePage([row for _, row in visible], last)


def key_of(row: QueuedRequest, order: str) -> Key:
    """The sort key: unknown values last; equals by wanted date, then by the time of asking."""
    until = (row.wanted_by or date.max).isoformat()
    if order == "value":
        value = row.value_compared
        known = 0.0 if value is None else -float(value.amount)
        return [value is None, known, until, str(row.id)]
    if order == "place":
        return [row.distance_km is None, row.distance_km or 0, until, str(row.id)]
    return [until, str(row.id)]


def cursor_of(order: str, key: Key) -> str:
    return base64.urlsafe_b64encode(json.dumps([order, key]).encode()).rstrip(b"=").decode()


def key_in(cursor: str, order: str) -> Key:
    """The key in a cursor. Raises `Invalid` at ?cursor for a cursor of another order."""
    try:
        decoded = json.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
        if decoded[0] == order and len(decoded[1]) == KEY_LENGTHS[order]:
            # Each part is compared here, so that an invalid key fails here.
            return [max(pair) for pair in zip(decoded[1], SMALLEST[order], strict=True)]
    except (binascii.Error, ValueError, TypeError, LookupError, RecursionError):
        pass
    raise Invalid.at("?cursor", "bad_cursor", "Take the cursor from `next`.")


SMALLEST: dict[str, Key] = {
    "value": [False, -1e18, "", ""],
    "place": [False, 0, "", ""],
    "date": ["", ""],
}
KEY_LENGTHS = {order: len(key) for order, key in SMALLEST.items()}
