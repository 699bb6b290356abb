"""Views of yard days: announce them, list them, and ask for a boat there."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidates_visible
from apps.common.errors import Invalid, Stale
from apps.groups.needs import in_group, in_group_of_request, in_group_of_viewing
from apps.groups.rules import Action, require
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.second_opinions import queue, settings, yard_days
from apps.second_opinions.api.queue_serializers import QueuedRequestSerializer
from apps.second_opinions.api.queue_views import asked_page
from apps.second_opinions.api.request_serializers import SecondOpinionRequestSerializer
from apps.second_opinions.api.request_views import request_response
from apps.second_opinions.api.yard_day_serializers import (
    DayQueueQuery,
    DayRequestBody,
    GroupOpinionSettingsBody,
    GroupOpinionSettingsSerializer,
    OwnYardDaySerializer,
    YardDayBody,
    YardDaySerializer,
    YardDaysQuery,
)
from apps.viewings.selectors import viewing_for


class GroupOpinionSettingsView(View):
    scopes = {"GET": "second_opinions:read", "PUT": "second_opinions:write"}
    needs = {"PUT": in_group(Action.MANAGE)}

    @extend_schema(
        operation_id="group_opinion_settings_read", responses=GroupOpinionSettingsSerializer
    )
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's setting for announcing its visits. Version 0: none are announced."""
        require(self.person, Action.READ, group_id)
        opinion_settings = settings.group_opinion_settings(group_id)
        return versioned_response(
            opinion_settings, GroupOpinionSettingsSerializer(opinion_settings).data
        )

    @extend_schema(
        operation_id="group_opinion_settings_set",
        request=GroupOpinionSettingsBody,
        responses=GroupOpinionSettingsSerializer,
    )
    def put(self, request: Request, group_id: uuid.UUID) -> Response:
        """Announce every planned visit of the group to its club, or close those announced so."""
        require(self.person, Action.READ, group_id)
        opinion_settings = settings.group_opinion_settings(group_id)
        yard_days.group_opinion_settings_set(
            opinion_settings=opinion_settings,
            by=self.person,
            expected_version=self.expected_version(opinion_settings),
            **self.read_body(GroupOpinionSettingsBody),
        )
        return versioned_response(
            opinion_settings, GroupOpinionSettingsSerializer(opinion_settings).data
        )


class ViewingYardDayView(View):
    put_makes = True
    scopes = {
        "GET": "second_opinions:read",
        "PUT": "second_opinions:write",
        "DELETE": "second_opinions:write",
    }
    needs = {"PUT": in_group_of_viewing(Action.PLAN), "DELETE": in_group_of_viewing(Action.PLAN)}

    @extend_schema(operation_id="viewing_yard_day_read", responses=OwnYardDaySerializer)
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """What your club sees of this visit of your group; 404 if nothing."""
        day = yard_days.own_day_for(self.person, viewing_id)
        return versioned_response(day, OwnYardDaySerializer(day).data)

    @extend_schema(
        operation_id="viewing_yard_day_set",
        request=YardDayBody,
        responses={200: OwnYardDaySerializer, 201: OwnYardDaySerializer},
    )
    def put(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """Announce to your club that somebody goes there on that day, with room for so many boats.
        It shows the place and the day, the person and the group only with `says_who`, and never the
        boat."""
        viewing = viewing_for(self.person, viewing_id)
        day = yard_days.own_day_of(viewing)
        if day is None and "If-Match" in request.headers:
            raise Stale
        opened = yard_days.yard_day_open(
            viewing=viewing,
            by=self.person,
            expected_version=None if day is None else self.expected_version(day),
            **self.read_body(YardDayBody),
        )
        payload = OwnYardDaySerializer(opened).data
        return versioned_response(opened, payload, status=201 if day is None else 200)

    @extend_schema(operation_id="viewing_yard_day_close", request=None, responses={204: None})
    def delete(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """Close the announcement. Waiting requests are declined; taken ones continue."""
        day = yard_days.own_day_for(self.person, viewing_id)
        yard_days.yard_day_close(
            day=day, by=self.person, expected_version=self.expected_version(day)
        )
        return no_content()


class ClubYardDaysView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = YardDaysQuery

    @extend_schema(operation_id="yard_days_list", responses=page_of(YardDaySerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The announced visits of the club's other groups, with the room for boats."""
        days = yard_days.open_days(
            self.person,
            club_id,
            since=self.query.get("since"),
            until=self.query.get("until"),
        )
        return page(request, days, self.query, YardDaySerializer)


class YardDayView(View):
    scopes = {"GET": "second_opinions:read"}

    @extend_schema(operation_id="yard_days_read", responses=YardDaySerializer)
    def get(self, request: Request, yard_day_id: uuid.UUID) -> Response:
        """One announced visit."""
        day = yard_days.open_day_for(self.person, yard_day_id)
        payload = YardDaySerializer(day).data
        return versioned_response(day, payload, variant=f"{payload['on']}.{payload['room']}")


def still_asking(person: Person, named: Mapping[str, Any], answer: Any) -> None:
    in_group_of_request(Action.ASK)(person, {"request_id": uuid.UUID(answer["id"])})


class YardDayRequestsView(View):
    scopes = {"POST": "second_opinions:write"}
    needs_again = {"POST": still_asking}

    @extend_schema(
        operation_id="yard_day_requests_create",
        request=DayRequestBody,
        responses={201: SecondOpinionRequestSerializer},
    )
    def post(self, request: Request, yard_day_id: uuid.UUID) -> Response:
        """Ask the person who goes there to look at a boat of your group's too.

        The person who accepts sees that boat as an adviser would.
        """
        day = yard_days.open_day_for(self.person, yard_day_id)
        body = self.read_body(DayRequestBody)
        candidate = candidates_visible(self.person).filter(pk=body.pop("candidate")).first()
        if candidate is None:
            raise Invalid.at("/candidate", "unknown", "There is no such boat in your groups.")
        made = yard_days.second_opinion_ask_on_day(
            day=day, candidate=candidate, by=self.person, **body
        )
        return request_response(self.person, made.pk, status=201)


class YardDayQueueView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = DayQueueQuery

    @extend_schema(operation_id="yard_day_asked_looks", responses=page_of(QueuedRequestSerializer))
    def get(self, request: Request, yard_day_id: uuid.UUID) -> Response:
        """Requests of others for a day when you go, to take or decline.

        They show only what is needed to choose.
        """
        return asked_page(
            request,
            queue.asked_on_day(
                self.person,
                yard_day_id,
                limit=self.query["limit"],
                cursor=self.query.get("cursor", ""),
            ),
        )
