"""Trips and their plans: translation only."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.common.digests import digest_of
from apps.common.errors import NotVisible
from apps.groups.needs import in_club, in_group
from apps.groups.rules import Action, ClubAction
from apps.http.pages import PageQuery, page, page_of
from apps.http.renderers import Made, file_or_json
from apps.http.views import View
from apps.planning import agreeing, selectors, services
from apps.planning.access import open_among
from apps.planning.api.serialized import trip_response
from apps.planning.api.serializers import (
    CalendarQuery,
    MapSerializer,
    StopsBody,
    TripBody,
    TripChangeBody,
    TripQuery,
    TripRowSerializer,
    TripSerializer,
)
from apps.planning.documents import GEOJSON, ICALENDAR, plan_calendar, plan_geojson

EXAMPLE = OpenApiExample(
    "One car, all boats that the group still looks at",
    request_only=True,
    value={
        "name": "Round the estuary",
        "day": "2027-03-20",
        "time_zone": "Europe/Berlin",
        "currency": "EUR",
        "parties": [
            {
                "label": "Ada's car",
                "start": {"label": "Home", "latitude": 54.32, "longitude": 10.13},
                "leaves_at": "08:00",
                "back_by": "17:30",
                "most_km": 200,
            }
        ],
    },
)


class GeoJson(Made):
    media_type = GEOJSON
    format = "geojson"


class CalendarText(Made):
    media_type = ICALENDAR
    format = "ics"
    charset = "utf-8"


class GroupTripsView(View):
    scopes = {"GET": "results:read", "POST": "plans:write"}
    needs = {"POST": in_group(Action.PLAN)}
    query_serializer = PageQuery

    @extend_schema(operation_id="group_trips_list", responses=page_of(TripRowSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's trips."""
        trips = selectors.trips_of_group(self.person, group_id)
        return page(request, trips, self.query, TripRowSerializer)

    @extend_schema(
        operation_id="group_trips_create",
        request=TripBody,
        responses={201: TripSerializer},
        examples=[EXAMPLE],
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Add a day trip to boats of the group: people, start, hours and distance.

        It has no plan until you ask for one.
        """
        given = self.read_body(TripBody)
        trip = services.trip_add(by=self.person, group_id=group_id, **given)
        return trip_response(selectors.trip_seen(self.person, trip.pk), status=201)


def boats_still_open(person: Person, named: Mapping[str, Any], answer: Any) -> None:
    listed = {uuid.UUID(boat["candidate"]) for boat in answer["boats"]}
    if open_among(person, listed) != listed:
        raise NotVisible


class ClubTripsView(View):
    scopes = {"GET": "results:read", "POST": "plans:write"}
    needs = {"POST": in_club(ClubAction.READ)}
    needs_again = {"POST": boats_still_open}
    query_serializer = PageQuery

    @extend_schema(operation_id="club_trips_list", responses=page_of(TripRowSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """Your own trips as a member of the club, and those you take part in."""
        trips = selectors.trips_of_club(self.person, club_id)
        return page(request, trips, self.query, TripRowSerializer)

    @extend_schema(
        operation_id="club_trips_create",
        request=TripBody,
        responses={201: TripSerializer},
        examples=[EXAMPLE],
    )
    def post(self, request: Request, club_id: uuid.UUID) -> Response:
        """Add a day trip of your own to boats of several groups.

        Everybody in a party sees the trip, with those of its boats that they may look at. A party's
        plan has a boat only if somebody in the party may look at her.
        """
        given = self.read_body(TripBody)
        trip = services.trip_add(by=self.person, club_id=club_id, **given)
        return trip_response(selectors.trip_seen(self.person, trip.pk), status=201)


def planner(person: Person, named: Mapping[str, Any]) -> None:
    services.require_planner(person, selectors.trip_alone_for(person, named["trip_id"]))


class TripView(View):
    scopes = {"GET": "results:read", "PATCH": "plans:write"}
    needs = {"PATCH": planner}
    query_serializer = TripQuery

    @extend_schema(operation_id="trips_read", responses=TripSerializer)
    def get(self, request: Request, trip_id: uuid.UUID) -> Response:
        """One trip with its plan: who looks at which boats in which order, and why not others."""
        seen = selectors.trip_seen(self.person, trip_id, wait=self.query["wait"])
        return trip_response(seen)

    @extend_schema(operation_id="trips_change", request=TripChangeBody, responses=TripSerializer)
    def patch(self, request: Request, trip_id: uuid.UUID) -> Response:
        """Change the fields sent. If parties or boats are sent, they replace all present ones.

        Agreed and finished visits stay. If a plan was requested, it is updated.
        """
        trip = selectors.trip_for(self.person, trip_id)
        expected_version = self.expected_version(trip)
        services.trip_change(
            trip=trip,
            by=self.person,
            expected_version=expected_version,
            **self.read_body(TripChangeBody, partial=True),
        )
        return trip_response(selectors.trip_seen(self.person, trip_id))


class PlansView(View):
    scopes = {"POST": "plans:write"}
    needs = {"POST": planner}
    needs_again = {"POST": boats_still_open}

    @extend_schema(operation_id="trips_plan", request=None, responses={202: TripSerializer})
    def post(self, request: Request, trip_id: uuid.UUID) -> Response:
        """Ask for a plan by the present values of looks. Read the trip with `?wait=` to get it.

        From then on the service updates the plan when it no longer works: a visit is called off, a
        boat is struck off, a yard is closed. Agreed, begun and finished visits stay.
        """
        trip = selectors.trip_for(self.person, trip_id)
        services.trip_ask_for_plan(trip=trip, by=self.person)
        return trip_response(selectors.trip_seen(self.person, trip_id), status=202)


class StopsView(View):
    scopes = {"POST": "plans:write"}
    needs = {"POST": planner}
    needs_again = {"POST": boats_still_open}

    @extend_schema(operation_id="trips_agree", request=StopsBody, responses={201: TripSerializer})
    def post(self, request: Request, trip_id: uuid.UUID) -> Response:
        """Make planned visits of stops: of all, or of those at the given boats.

        Later plans keep them until they are called off or moved.
        """
        trip = selectors.trip_for(self.person, trip_id)
        body = self.read_body(StopsBody)
        agreeing.stops_agree(trip=trip, by=self.person, candidates=body.get("boats"))
        return trip_response(selectors.trip_seen(self.person, trip_id), status=201)


class MapView(View):
    scopes = {"GET": "results:read"}
    renderer_classes = file_or_json(GeoJson)

    @extend_schema(operation_id="trips_map", responses={(200, GEOJSON): MapSerializer})
    def get(self, request: Request, trip_id: uuid.UUID) -> Response:
        """The plan as a map (GeoJSON, RFC 7946): starts, stops, and straight lines between them."""
        seen = selectors.trip_seen(self.person, trip_id)
        content = plan_geojson(seen)
        response = Response(content, content_type=GEOJSON)
        response["ETag"] = f'"{digest_of(content)}"'
        return response


class CalendarView(View):
    scopes = {"GET": "results:read"}
    query_serializer = CalendarQuery
    renderer_classes = file_or_json(CalendarText)

    @extend_schema(operation_id="trips_calendar", responses={(200, ICALENDAR): OpenApiTypes.STR})
    def get(self, request: Request, trip_id: uuid.UUID) -> Response:
        """The plan's stops as calendar events (iCalendar, RFC 5545).

        An event keeps its UID in all plans; its SEQUENCE goes up whenever the plan changes. Stops
        that were dropped from the plan are cancelled events.
        """
        seen = selectors.trip_seen(self.person, trip_id)
        content = plan_calendar(seen, self.query.get("party"))
        response = Response(content, content_type=f"{ICALENDAR}; charset=utf-8")
        response["ETag"] = f'"{digest_of(content.decode())}"'
        response["Content-Disposition"] = 'attachment; filename="trip.ics"'
        return response
