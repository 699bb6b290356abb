"""Days on which somebody goes to a yard and has room for other boats, as pages show them."""

import uuid
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, Q

from apps.accounts.models import Person
from apps.appraisal.words.phrases import about_amount, figure
from apps.boats.models import Candidate
from apps.boats.selectors import candidates_visible
from apps.boats.vocabulary import SETTLED, HullMaterial, Keel
from apps.catalogue.selectors import club_snapshot
from apps.second_opinions.access import yard_days_of
from apps.second_opinions.models import SecondOpinionRequest, YardDay
from apps.second_opinions.queue import QueuedRequest, asked_on_day
from apps.second_opinions.yard_days import (
    day_on,
    is_to_come,
    lies_there,
    open_days,
    own_day_of,
    who_goes,
)
from apps.viewings.models import Viewing

SHOWN = 30
State = SecondOpinionRequest.State


@dataclass(frozen=True)
class Queued:
    """A request as people see it before taking it on, in words."""

    request: QueuedRequest
    boat: str
    checks: list[str]
    worth: str


@dataclass(frozen=True)
class DayOut:
    """A yard day. boats: the reader's that lie there; waiting: how many others are asked there."""

    day: YardDay
    on: date
    place: str
    room: int
    who: str = ""
    boats: list[Candidate] = field(default_factory=list)
    waiting: int = 0


def others_days(person: Person, club_id: uuid.UUID) -> list[DayOut]:
    """The days of the club's other groups, the earliest first. Four queries."""
    days = list(open_days(person, club_id).order_by("viewing__starts_at", "pk")[:SHOWN])
    boats = list(boats_to_ask_about(person, club_id)) if days else []
    return [day_of(one, boats) for one in days]


def boats_to_ask_about(person: Person, club_id: uuid.UUID) -> Iterable[Candidate]:
    """The boats of the reader's groups in the club that somebody may be asked to look at."""
    boats = candidates_visible(person).filter(list__group__club=club_id)
    return boats.exclude(stage__in=SETTLED).select_related("at_yard").order_by("name", "pk")


def day_of(day: YardDay, boats: Collection[Candidate] = ()) -> DayOut:
    there = day.viewing.candidate
    taken: int = getattr(day, "taken", 0)
    names = ", ".join(one.name for one in who_goes(day.viewing)) if day.says_who else ""
    return DayOut(
        day,
        day_on(day.viewing),
        there.place_in_words,
        max(0, day.room - taken),
        f"{names} of {there.list.group.name}" if names else "",
        [boat for boat in boats if lies_there(boat, there)],
    )


def own_days(person: Person, club_id: uuid.UUID) -> list[DayOut]:
    """The coming days on which the reader goes. Two queries."""
    group = "viewing__candidate__list__group"
    days = (
        yard_days_of(person)
        .filter(closed_at=None, **{f"{group}__club": club_id})
        .select_related("viewing__candidate__at_yard", group)
        .annotate(waiting=Count("requests", filter=Q(requests__state=State.WAITING)))
        .order_by("viewing__starts_at", "pk")
    )
    return [
        DayOut(
            day,
            day_on(day.viewing),
            day.viewing.candidate.place_in_words,
            day.room,
            waiting=day.waiting,
        )
        for day in days
        if is_to_come(day.viewing)
    ]


@dataclass(frozen=True)
class OwnDay:
    """What a visit shows the club, if it is open to it; and what is asked of the reader there.

    can_open: whether it can be opened or closed now; place: how the club is told where it is.
    """

    day: YardDay | None
    can_open: bool
    on: date
    place: str
    asked: list[Queued]


def own_day(person: Person, visit: Viewing, club_id: uuid.UUID) -> OwnDay:
    day = own_day_of(visit)
    goes = day is not None and yard_days_of(person).filter(pk=day.pk).exists()
    return OwnDay(
        day,
        is_to_come(visit) and visit.candidate.position is not None,
        day_on(visit),
        visit.candidate.place_in_words,
        queued(asked_on_day(person, day.pk, limit=SHOWN).rows, club_id) if day and goes else [],
    )


def queued(rows: Iterable[QueuedRequest], club_id: uuid.UUID) -> list[Queued]:
    checkpoints = club_snapshot(club_id).catalogue.checkpoints
    return [
        Queued(
            row,
            kind_of_boat(row),
            [checkpoints[code].title for code in row.checkpoints if code in checkpoints],
            about_amount(float(row.value.amount), row.value.currency) if row.value else "",
        )
        for row in rows
    ]


def kind_of_boat(row: QueuedRequest) -> str:
    """'A boat of 10 m, steel, keel bolted fin, at Cold Harbour': not her name."""
    text = [
        f"A boat of {figure('loa_m', row.loa_m)}" if row.loa_m else "A boat",
        str(HullMaterial(row.hull_material).label) if row.hull_material else "",
        f"keel {Keel(row.keel).label}" if row.keel else "",
        f"at {row.yard.name}" if row.yard else "",
    ]
    return ", ".join(one for one in text if one)
