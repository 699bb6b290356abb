"""A day trip as one person may see it: who goes where and when, and the looks at each boat."""

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.yards.selectors import time_zone_of
from apps.planning.selectors import PartyDay, StopSeen, TripSeen, trip_seen
from apps.reports import words
from apps.reports.looks import LookToMake, PlannedVisit, looks_read
from apps.viewings.selectors import viewings_visible


@dataclass(frozen=True)
class HiddenLook:
    """A look at a boat that the reader may not see."""

    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class DayParty:
    """People who go together, and the looks on their route in order."""

    label: str
    people: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    looks: tuple[LookToMake | HiddenLook, ...]


@dataclass(frozen=True)
class Outing:
    name: str
    group: str
    day: date
    zone: str  # for times that belong to no yard
    note: str
    drives: tuple[DayParty, ...]
    left_out: tuple[tuple[str, str], ...]  # boat and why
    behind: str  # in words, if its plan or visit has changed since
    computed_at: datetime | None

    @property
    def is_one_visit(self) -> bool:
        """Whether it is a visit to one boat, not a trip from boat to boat."""
        return [drive.label for drive in self.drives] == [""]

    @property
    def looks(self) -> Iterator[LookToMake]:
        """The looks that the reader may see."""
        for drive in self.drives:
            yield from (look for look in drive.looks if isinstance(look, LookToMake))


def viewing_outing(person: Person, viewing_id: uuid.UUID) -> Outing:
    """A visit to one boat."""
    viewing = get_object_or_404(
        viewings_visible(person).select_related("candidate__list__group", "candidate__at_yard"),
        pk=viewing_id,
    )
    candidate = viewing.candidate
    yard = candidate.at_yard
    zone = yard.time_zone if yard else time_zone_of(candidate.list)
    day = viewing.starts_at.astimezone(ZoneInfo(zone)).date()
    looks = looks_read(
        person, [PlannedVisit(candidate, day, zone, viewing.starts_at, viewing=viewing)]
    )
    people = tuple(sorted(one.name for one in viewing.people.all()))
    planned = viewing.State.PLANNED
    return Outing(
        name=f"sea trial of {candidate.name}" if viewing.is_sea_trial else candidate.name,
        group=candidate.list.group.name,
        day=day,
        zone=zone,
        note=viewing.note,
        drives=(DayParty("", people, (), looks),),
        left_out=(),
        behind="" if viewing.state == planned else f"It is {viewing.get_state_display()}.",
        computed_at=latest(look.known.computed_at for look in looks),
    )


def trip_outing(person: Person, trip_id: uuid.UUID) -> Outing:
    """A day with several boats, in the order of its plan."""
    seen = trip_seen(person, trip_id)
    trip = seen.trip
    owner = trip.group or trip.club
    stops = [one for day in seen.days for one in day.stops if one.boat is not None]
    looks = looks_read(person, [visit_of(seen, one) for one in stops])
    by_stop = {one.stop.pk: look for one, look in zip(stops, looks, strict=True)}
    return Outing(
        name=trip.name,
        group=owner.name if owner else "",
        day=trip.day,
        zone=trip.time_zone,
        note=trip.note,
        drives=tuple(
            DayParty(
                label=day.party.label,
                people=tuple(sorted(one.name for one in day.party.people.all())),
                facts=tuple(facts_of(day, trip.time_zone)),
                looks=tuple(
                    by_stop.get(one.stop.pk) or HiddenLook(one.stop.starts_at, one.stop.ends_at)
                    for one in day.stops
                ),
            )
            for day in seen.days
        ),
        left_out=tuple(
            (boat.candidate.name, boat.get_left_out_display()) for boat in seen.left_out
        ),
        behind=behind(seen),
        computed_at=latest([trip.planned_at, *(look.known.computed_at for look in looks)]),
    )


def visit_of(seen: TripSeen, one: StopSeen) -> PlannedVisit:
    trip, stop, way = seen.trip, one.stop, ""
    if one.metres is not None:
        km, minutes = one.metres / 1000, one.drive_minutes
        way = f"{km:.0f} km, about {minutes} minutes" if km else "no drive"
    return PlannedVisit(
        candidate=stop.boat.candidate,
        day=trip.day,
        zone=trip.time_zone,
        starts_at=stop.starts_at,
        ends_at=stop.ends_at,
        way=way,
        viewing=stop.viewing,
    )


def facts_of(day: PartyDay, zone: str) -> Iterator[tuple[str, str]]:
    party = day.party
    if party.start:
        yield "From", party.start
    if party.sets_off_at and party.back_at:
        yield "Sets off", words.clock(party.sets_off_at, zone)
        yield "Back", words.clock(party.back_at, zone)
    if day.metres is not None:
        yield "On the road", f"about {day.metres / 1000:.0f} km"


def behind(seen: TripSeen) -> str:
    trip = seen.trip
    if trip.state == trip.State.CALLED_OFF:
        return "This trip is called off."
    if not any(day.stops for day in seen.days):
        return "There is no plan yet."
    return "Something has changed since this was planned." if trip.stale else ""


def latest(moments: Iterable[datetime | None]) -> datetime | None:
    return max((one for one in moments if one is not None), default=None)
