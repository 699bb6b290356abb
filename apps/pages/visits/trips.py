"""A day out: planning one, and its stops in order with who looks at what."""

import uuid
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse

from apps.accounts.models import Person
from apps.common.errors import NotAllowed, NotVisible
from apps.groups.rules import visible_groups
from apps.pages.base import PageView
from apps.pages.visits.own_visits import OwnVisit, own_visits_of
from apps.pages.visits.trip_forms import form_of
from apps.planning.api.serialized import trip_response
from apps.planning.documents import zone_of
from apps.planning.models import StopState, Trip, TripBoat, TripParty
from apps.planning.selectors import PartyDay, StopSeen, TripSeen, trip_seen
from apps.planning.services import require_planner
from apps.reports.words import listed
from apps.second_opinions.assigned import assignments_of, live_ids


@dataclass(frozen=True)
class StopOnPage:
    """A stop as a page shows it. boat None: the reader may not see which one."""

    seen: StopSeen
    boat: TripBoat | None
    zone: ZoneInfo
    where: str
    at: str
    own: OwnVisit | None

    @property
    def state(self) -> str:
        return STATES[self.seen.stop.state]


STATES = {
    StopState.PLANNED: "not agreed yet",
    StopState.AGREED: "agreed",
    StopState.MADE: "she was looked at",
}


@dataclass(frozen=True)
class Car:
    """A party with its stops in order."""

    party: TripParty
    people: list[Person]
    goes_along: bool
    stops: list[StopOnPage]
    metres: float | None

    @property
    def who(self) -> str:
        return listed([one.name for one in self.people])


class TripPageView(PageView):
    def get(self, request: HttpRequest, trip_id: uuid.UUID) -> HttpResponse:
        seen = trip_seen(self.person, trip_id)
        answer = trip_response(seen)
        trip, plan = seen.trip, answer.data["plan"]
        cars = self.cars(seen)
        stops = [stop for car in cars for stop in car.stops]
        changes = may_change(self.person, trip)
        return self.page(
            "pages/trip.html",
            trip=trip,
            plan=plan,
            held=answer["ETag"].strip('"'),
            is_settled=not trip.asked or plan["fresh"] or trip.state == Trip.State.CALLED_OFF,
            cars=cars,
            at_home=[day.party for day in seen.days if not day.stops],
            hidden=seen.hidden,
            may_change=changes,
            can_agree=changes
            and plan["fresh"]
            and any(one.boat and one.seen.stop.viewing_id is None for one in stops),
            own=next((one.own for one in stops if one.own), None),
            form=form_of(self.person, trip) if changes else None,
        )

    def cars(self, seen: TripSeen) -> list[Car]:
        """The parties that go, each with its stops. Four queries."""
        stops = [one.stop for day in seen.days for one in day.stops]
        own = own_visits_of(self.person, [one.viewing_id for one in stops if one.viewing_id])
        groups = set(visible_groups(self.person).values_list("pk", flat=True))
        taken = assignments_of(self.person).filter(pk__in=live_ids(self.person))
        requests = dict(taken.values_list("request__candidate", "request"))

        def at(boat: TripBoat) -> str:
            """The page of the boat, as far as the reader sees her."""
            if boat.candidate.list.group_id in groups:
                return f"/boats/{boat.candidate_id}"
            return f"/second-opinions/{requests[boat.candidate_id]}"

        def stop(one: StopSeen) -> StopOnPage:
            visit = own.get(one.stop.viewing_id) if one.stop.viewing_id else None
            if one.boat is None:
                zone = ZoneInfo(seen.trip.time_zone)
                return StopOnPage(one, None, zone, "", "", None)
            boat = one.boat.candidate
            zone = ZoneInfo(zone_of(seen.trip, one.boat))
            return StopOnPage(one, one.boat, zone, boat.place_in_words, at(one.boat), visit)

        def car(day: PartyDay) -> Car:
            people = list(day.party.people.all())
            stops, along = list(map(stop, day.stops)), self.person in people
            return Car(day.party, people, along, stops, day.metres)

        return [car(day) for day in seen.days if day.stops]


def may_change(person: Person, trip: Trip) -> bool:
    try:
        require_planner(person, trip)
    except (NotAllowed, NotVisible):
        return False
    return True
