"""What is asked to plan a day out: who goes, from where, how long, and to which boats."""

import uuid
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, time, timedelta

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.selectors import candidates_of, list_for
from apps.boats.vocabulary import SETTLED
from apps.boats.yards.models import Yard
from apps.boats.yards.selectors import yards_visible
from apps.groups.rules import Action, club_membership_of, require
from apps.groups.selectors import club_members_of
from apps.pages.base import PageView
from apps.pages.visits.visits import members_who_look
from apps.planning.models import Trip, TripParty
from apps.planning.selectors import trips_visible
from apps.planning.services import plannable
from apps.second_opinions.queue import commonest_currency
from apps.second_opinions.settings import club_opinion_settings

LEAVES_AT, BACK_BY = time(8), time(17, 30)
MOST_CARS = 4
SATURDAY = 5


@dataclass(frozen=True)
class AskedParty:
    """One car as the form shows it; `id` if it is stored."""

    label: str
    people: frozenset[uuid.UUID]
    id: uuid.UUID | None = None
    start: str = ""
    latitude: float | None = None
    longitude: float | None = None
    leaves_at: time = LEAVES_AT
    back_by: time = BACK_BY
    most_km: int | None = None


@dataclass(frozen=True)
class TripForm:
    """boats: all that can be on the trip; chosen: those that are."""

    sends: str
    etag: str
    name: str
    day: date
    zone: str
    currency: str
    note: str
    parties: list[AskedParty]
    people: list[Person]
    boats: list[Candidate]
    chosen: frozenset[uuid.UUID]
    yards: list[Yard] = field(default_factory=list)

    @property
    def named_parties(self) -> list[tuple[str, AskedParty]]:
        """Each with how the names of its fields begin."""
        return [(f"parties.{n}.", party) for n, party in enumerate(self.parties)]


class NewGroupTripView(PageView):
    """`?cars=2` asks for two cars."""

    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        listed = list_for(self.person, list_id)
        require(self.person, Action.PLAN, listed.group_id)
        boats = list(still_open(candidates_of(listed)))
        members = members_who_look(self.person, listed.group_id).select_related("person")
        form = new_form(
            self.person,
            sends=f"POST /groups/{listed.group_id}/trips",
            currency=listed.currency,
            people=[one.person for one in members],
            boats=boats,
            cars=cars_in(request),
        )
        back = (f"/lists/{list_id}", listed.name)
        return self.page("pages/trip_new.html", form=form, back=back, cars=range(2, MOST_CARS + 1))


class NewClubTripView(PageView):
    """A trip of the reader's own, to the boats that they may look at: also those taken on."""

    def get(self, request: HttpRequest, club_id: uuid.UUID) -> HttpResponse:
        club = club_membership_of(self.person, club_id).club
        trip = Trip(club=club, made_by=self.person)
        form = new_form(
            self.person,
            sends=f"POST /clubs/{club_id}/trips",
            currency=currency_of_club(club_id),
            people=people_of_club(self.person, club_id),
            boats=list(still_open(plannable(trip, self.person))),
            cars=cars_in(request),
        )
        back = (f"/club/{club_id}", club.name)
        return self.page("pages/trip_new.html", form=form, back=back, cars=range(2, MOST_CARS + 1))


def cars_in(request: HttpRequest) -> int:
    asked = request.GET.get("cars", "")
    return min(max(int(asked), 1), MOST_CARS) if asked.isdecimal() and len(asked) < 3 else 1


def still_open(boats: Iterable[Candidate]) -> Iterable[Candidate]:
    """Those that somebody still looks at, by name."""
    rows = boats.exclude(stage__in=SETTLED)  # type: ignore[attr-defined]  # a queryset
    found: Iterable[Candidate] = rows.select_related("at_yard").order_by("name", "pk")
    return found


def currency_of_club(club_id: uuid.UUID) -> str:
    return club_opinion_settings(club_id).currency or commonest_currency(club_id) or "EUR"


def people_of_club(person: Person, club_id: uuid.UUID) -> list[Person]:
    members = club_members_of(person, club_id).filter(person__kind=Person.Kind.PERSON)
    return [one.person for one in members.select_related("person").order_by("person__name", "pk")]


def new_form(
    person: Person,
    *,
    sends: str,
    currency: str,
    people: list[Person],
    boats: list[Candidate],
    cars: int,
) -> TripForm:
    last = last_start(person)
    first = AskedParty(
        f"{person.name}'s car",
        frozenset([person.pk]),
        start=last.start if last else "",
        latitude=last.latitude if last else None,
        longitude=last.longitude if last else None,
    )
    others = [AskedParty(f"Car {n}", frozenset()) for n in range(2, cars + 1)]
    return TripForm(
        sends=sends,
        etag="",
        name="",
        day=next_saturday(timezone.localdate()),
        zone=zone_of_most(boats),
        currency=currency,
        note="",
        parties=[first, *others],
        people=people,
        boats=boats,
        chosen=frozenset(boat.pk for boat in boats),
        yards=list(yards_visible(person).order_by("name", "pk")),
    )


def form_of(person: Person, trip: Trip) -> TripForm:
    """The form that changes a trip; her parties and boats as they are."""
    if trip.group_id:
        members = members_who_look(person, trip.group_id).select_related("person")
        people = [one.person for one in members]
    else:
        assert trip.club_id is not None  # a constraint requires one of the two
        people = people_of_club(person, trip.club_id)
    wanted = [boat for boat in trip.boats.all() if boat.wanted]
    chosen = {boat.candidate_id: boat.candidate for boat in wanted}
    open_ = {boat.pk: boat for boat in still_open(plannable(trip, person))}
    boats = {**open_, **chosen}.values()
    return TripForm(
        sends=f"PATCH /trips/{trip.pk}",
        etag=trip.etag,
        name=trip.name,
        day=trip.day,
        zone=trip.time_zone,
        currency=trip.currency,
        note=trip.note,
        parties=[asked_party(party) for party in trip.parties.all()],
        people=people,
        boats=sorted(boats, key=lambda boat: (boat.name, boat.pk)),
        chosen=frozenset(chosen),
        yards=list(yards_visible(person).order_by("name", "pk")),
    )


def asked_party(party: TripParty) -> AskedParty:
    return AskedParty(
        party.label,
        frozenset(one.pk for one in party.people.all()),
        party.pk,
        party.start,
        party.latitude,
        party.longitude,
        party.leaves_at,
        party.back_by,
        party.most_km,
    )


def zone_of_most(boats: Iterable[Candidate]) -> str:
    """The clock by which most boats lie, as far as their yards say; else the reader's own."""
    zones = Counter(boat.at_yard.time_zone for boat in boats if boat.at_yard)
    return next((zone for zone, _ in zones.most_common(1)), timezone.get_current_timezone_name())


def last_start(person: Person) -> TripParty | None:
    """From where the person last started."""
    parties = TripParty.objects.filter(trip__in=trips_visible(person), people=person)
    return parties.order_by("-pk").first()


def next_saturday(today: date) -> date:
    return today + timedelta(days=(SATURDAY - today.weekday() - 1) % 7 + 1)
