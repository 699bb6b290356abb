"""Views of the queue, the club's settings and the advisers' workload."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.groups.needs import in_club
from apps.groups.rules import ClubAction, require_in_club
from apps.http.pages import next_link, page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.second_opinions import assigning, queue, settings, workload
from apps.second_opinions.access import still_asked, still_secretary, still_taken
from apps.second_opinions.api.assignment_serializers import AssignmentSerializer
from apps.second_opinions.api.assignment_views import assignment_response
from apps.second_opinions.api.queue_serializers import (
    ClubOpinionSettingsChange,
    ClubOpinionSettingsSerializer,
    DeclineBody,
    OfferBody,
    QueuedRequestSerializer,
    QueueQuery,
    WorkloadQuery,
    WorkloadSerializer,
)


class ClubOpinionSettingsView(View):
    scopes = {"GET": "second_opinions:read", "PATCH": "second_opinions:write"}
    needs = {"PATCH": in_club(ClubAction.MANAGE)}

    @extend_schema(
        operation_id="club_opinion_settings_read", responses=ClubOpinionSettingsSerializer
    )
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The club's settings of second opinions. Version 0: the defaults."""
        require_in_club(self.person, ClubAction.READ, club_id)
        opinion_settings = settings.club_opinion_settings(club_id)
        return versioned_response(
            opinion_settings, ClubOpinionSettingsSerializer(opinion_settings).data
        )

    @extend_schema(
        operation_id="club_opinion_settings_change",
        request=ClubOpinionSettingsChange,
        responses=ClubOpinionSettingsSerializer,
    )
    def patch(self, request: Request, club_id: uuid.UUID) -> Response:
        """Set how many requests an adviser may have, and the currency for comparing looks."""
        opinion_settings = settings.club_opinion_settings(club_id)
        settings.club_opinion_settings_change(
            opinion_settings=opinion_settings,
            by=self.person,
            expected_version=self.expected_version(opinion_settings),
            **self.read_body(ClubOpinionSettingsChange, partial=True),
        )
        return versioned_response(
            opinion_settings, ClubOpinionSettingsSerializer(opinion_settings).data
        )


def asked_page(request: Request, found: queue.QueuePage) -> Response:
    """One page of requests."""
    rows = QueuedRequestSerializer(found.rows, many=True).data
    return Response(
        {"results": rows, "next": next_link(request, found.next) if found.next else None}
    )


class QueueView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = QueueQuery

    @extend_schema(operation_id="asked_looks_list", responses=page_of(QueuedRequestSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The second opinions that groups of the club ask for and that you may take.

        Requests that you had or declined, and those of your own groups, are left out. Each row has
        only what is needed to choose; whoever takes it sees the boat. The value of a look is how
        far it is expected to move the boat's expected cost, in the currency of the group's list.
        The buyers' valuations do not affect it. Values are compared in the currency of the club's
        settings, or else that of most lists here, by the exchange rates of the list's own brief.
        """
        query = dict(self.query)
        place = (query.pop("latitude", None), query.pop("longitude", None))
        found = queue.second_opinion_queue(
            self.person, club_id, here=None if place[0] is None else place, **query
        )
        return asked_page(request, found)


class QueuedAssignmentsView(View):
    scopes = {"POST": "second_opinions:write"}
    needs_again = {"POST": still_taken}

    @extend_schema(
        operation_id="asked_looks_assignment", request=None, responses={201: AssignmentSerializer}
    )
    def post(self, request: Request, request_id: uuid.UUID) -> Response:
        """Take a request. From then on you see that boat, at the assignment's addresses."""
        assignment = assigning.second_opinion_take(request_id=request_id, by=self.person)
        return assignment_response(self.person, assignment.pk, status=201)


class QueuedDeclinesView(View):
    scopes = {"POST": "second_opinions:write"}
    needs_again = {"POST": still_asked}

    @extend_schema(operation_id="asked_looks_decline", request=DeclineBody, responses={204: None})
    def post(self, request: Request, request_id: uuid.UUID) -> Response:
        """Decline a request. You are not asked about this boat again."""
        assigning.second_opinion_decline(
            request_id=request_id, by=self.person, **self.read_body(DeclineBody)
        )
        return no_content()


class QueuedOffersView(View):
    scopes = {"POST": "second_opinions:write"}
    needs_again = {"POST": still_secretary}

    @extend_schema(
        operation_id="asked_looks_offer",
        request=OfferBody,
        responses={201: QueuedRequestSerializer},
    )
    def post(self, request: Request, request_id: uuid.UUID) -> Response:
        """As the secretary, ask one adviser. Until they decline, nobody else can take it."""
        waiting = queue.waiting_for_secretary(self.person, request_id)
        assigning.second_opinion_offer(
            request=waiting, by=self.person, adviser_id=self.read_body(OfferBody)["adviser"]
        )
        row = queue.row_for_secretary(self.person, request_id)
        return Response(QueuedRequestSerializer(row).data, status=201)


class WorkloadView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = WorkloadQuery

    @extend_schema(
        operation_id="club_opinion_settings_workload", responses=page_of(WorkloadSerializer)
    )
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """What each adviser has now, and took and answered in a period."""
        advisers = workload.workload(
            self.person,
            club_id,
            since=self.query.get("since"),
            until=self.query.get("until"),
        )
        return page(request, advisers, self.query, WorkloadSerializer)
