"""Yards of clubs and groups: translation only."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.api.yard_serializers import YardBody, YardChangeBody, YardSerializer
from apps.boats.yards import selectors, services
from apps.boats.yards.models import Yard
from apps.groups.needs import in_club, in_group
from apps.groups.rules import Action, ClubAction
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response

EXAMPLE = OpenApiExample(
    "Open mornings and afternoons, closed on Sundays",
    request_only=True,
    value={
        "name": "North Quay",
        "latitude": 54.1,
        "longitude": 10.2,
        "time_zone": "Europe/Berlin",
        "opening_hours": {
            "monday": [
                {"opens": "08:00", "closes": "12:00"},
                {"opens": "13:00", "closes": "17:00"},
            ],
            "saturday": [{"opens": "09:00", "closes": "13:00"}],
        },
        "closed_on": ["2025-12-25"],
        "note": "Tell the office before you go in.",
    },
)


def yard_response(yard: Yard, *, status: int = 200) -> Response:
    return versioned_response(yard, YardSerializer(yard).data, status=status)


class ClubYardsView(View):
    scopes = {"GET": "lists:read", "POST": "group:manage"}
    needs = {"POST": in_club(ClubAction.KEEP_YARDS)}
    query_serializer = PageQuery

    @extend_schema(operation_id="club_yards_list", responses=page_of(YardSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The club's yards, which all its groups may use."""
        yards = selectors.yards_of_club(self.person, club_id)
        return page(request, yards, self.query, YardSerializer)

    @extend_schema(
        operation_id="club_yards_create",
        request=YardBody,
        responses={201: YardSerializer},
        examples=[EXAMPLE],
    )
    def post(self, request: Request, club_id: uuid.UUID) -> Response:
        """Add a yard for all groups of the club. Its secretary and advisers maintain them."""
        facts = self.read_body(YardBody)
        yard = services.yard_add(
            id=facts.pop("id", None), by=self.person, club_id=club_id, facts=facts
        )
        return yard_response(yard, status=201)


class GroupYardsView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group(Action.ADD)}
    query_serializer = PageQuery

    @extend_schema(operation_id="group_yards_list", responses=page_of(YardSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The yards the group may use: its own and its club's."""
        yards = selectors.yards_of_group(self.person, group_id)
        return page(request, yards, self.query, YardSerializer)

    @extend_schema(
        operation_id="group_yards_create",
        request=YardBody,
        responses={201: YardSerializer},
        examples=[EXAMPLE],
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Add a yard for the group alone."""
        facts = self.read_body(YardBody)
        yard = services.yard_add(
            id=facts.pop("id", None), by=self.person, group_id=group_id, facts=facts
        )
        return yard_response(yard, status=201)


def keeper(person: Person, named: Mapping[str, Any]) -> None:
    services.require_keeper(person, selectors.yard_for(person, named["yard_id"]))


class YardView(View):
    scopes = {"GET": "lists:read", "PATCH": "lists:write", "DELETE": "lists:write"}
    needs = {"PATCH": keeper, "DELETE": keeper}

    @extend_schema(operation_id="yards_read", responses=YardSerializer)
    def get(self, request: Request, yard_id: uuid.UUID) -> Response:
        """One yard."""
        return yard_response(selectors.yard_for(self.person, yard_id))

    @extend_schema(operation_id="yards_change", request=YardChangeBody, responses=YardSerializer)
    def patch(self, request: Request, yard_id: uuid.UUID) -> Response:
        """Change the fields sent; opening hours are sent as a whole."""
        yard = selectors.yard_for(self.person, yard_id)
        services.yard_change(
            yard=yard,
            by=self.person,
            expected_version=self.expected_version(yard),
            facts=self.read_body(YardChangeBody, partial=True),
        )
        return yard_response(yard)

    @extend_schema(operation_id="yards_remove", request=None, responses={204: None})
    def delete(self, request: Request, yard_id: uuid.UUID) -> Response:
        """Delete a yard. Boats there keep its name and position as their own."""
        yard = selectors.yard_for(self.person, yard_id)
        services.yard_remove(
            yard=yard, by=self.person, expected_version=self.expected_version(yard)
        )
        return no_content()
