"""The desk: its settings, what waits, who does how much. Translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.desk import queue, settings, taking, workload
from apps.desk.access import still_asked, still_secretary, still_taken
from apps.desk.api.desk_serializers import (
    AskedLookSerializer,
    AskedLooksQuery,
    ClubDeskChange,
    ClubDeskSerializer,
    DeclineBody,
    OfferBody,
    WorkloadQuery,
    WorkloadSerializer,
)
from apps.desk.api.take_serializers import TakeSerializer
from apps.desk.api.take_views import shown_take
from apps.groups.needs import in_club
from apps.groups.rules import ClubAction, require_in_club
from apps.http.pages import next_link, page, page_of
from apps.http.views import View, no_content, versioned_response


class ClubDeskView(View):
    scopes = {"GET": "desk:read", "PATCH": "desk:write"}
    needs = {"PATCH": in_club(ClubAction.MANAGE)}

    @extend_schema(operation_id="club_desk_read", responses=ClubDeskSerializer)
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """How the club's desk works. Version 0: as the service has it."""
        require_in_club(self.person, ClubAction.READ, club_id)
        desk = settings.club_desk(club_id)
        return versioned_response(desk, ClubDeskSerializer(desk).data)

    @extend_schema(
        operation_id="club_desk_change", request=ClubDeskChange, responses=ClubDeskSerializer
    )
    def patch(self, request: Request, club_id: uuid.UUID) -> Response:
        """Set how many requests an adviser may have, and in which currency looks are compared."""
        desk = settings.club_desk(club_id)
        settings.club_desk_change(
            desk=desk,
            by=self.person,
            expected_version=self.expected_version(desk),
            **self.read_body(ClubDeskChange, partial=True),
        )
        return versioned_response(desk, ClubDeskSerializer(desk).data)


def asked_page(request: Request, found: queue.Page) -> Response:
    """One page of what is asked for."""
    rows = AskedLookSerializer(found.rows, many=True).data
    return Response(
        {"results": rows, "next": next_link(request, found.next) if found.next else None}
    )


class AskedLooksView(View):
    scopes = {"GET": "desk:read"}
    query_serializer = AskedLooksQuery

    @extend_schema(operation_id="asked_looks_list", responses=page_of(AskedLookSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """What waits at the club's desk for you: second opinions that groups ask for.

        Not what you had or declined already, nor what your own groups ask. Each row says only what
        is needed to choose; who takes it on sees the boat. A look is worth as much as it is
        expected to move what the boat is thought to cost, in the money of the group's list: what
        her buyers think of her has no part in it. It is compared in the desk's currency, or in that
        of most lists here, by the exchange rates of the list's own brief.
        """
        query = dict(self.query)
        place = (query.pop("latitude", None), query.pop("longitude", None))
        found = queue.asked_looks(
            self.person, club_id, here=None if place[0] is None else place, **query
        )
        return asked_page(request, found)


class AskedLookTakesView(View):
    scopes = {"POST": "desk:write"}
    needs_again = {"POST": still_taken}

    @extend_schema(operation_id="asked_looks_take", request=None, responses={201: TakeSerializer})
    def post(self, request: Request, request_id: uuid.UUID) -> Response:
        """Take a request on. From here on you see that boat, by the take's own addresses."""
        take = taking.look_take(request_id=request_id, by=self.person)
        return shown_take(self.person, take.pk, status=201)


class AskedLookDeclinesView(View):
    scopes = {"POST": "desk:write"}
    needs_again = {"POST": still_asked}

    @extend_schema(operation_id="asked_looks_decline", request=DeclineBody, responses={204: None})
    def post(self, request: Request, request_id: uuid.UUID) -> Response:
        """Say that you do not take it. You are not asked for this boat again."""
        taking.look_decline(request_id=request_id, by=self.person, **self.read_body(DeclineBody))
        return no_content()


class AskedLookOffersView(View):
    scopes = {"POST": "desk:write"}
    needs_again = {"POST": still_secretary}

    @extend_schema(
        operation_id="asked_looks_offer", request=OfferBody, responses={201: AskedLookSerializer}
    )
    def post(self, request: Request, request_id: uuid.UUID) -> Response:
        """As the secretary, ask one adviser for it. Until they decline, nobody else can take it."""
        waiting = queue.waiting_for_secretary(self.person, request_id)
        taking.look_offer(
            request=waiting, by=self.person, adviser_id=self.read_body(OfferBody)["adviser"]
        )
        row = queue.row_for_secretary(self.person, request_id)
        return Response(AskedLookSerializer(row).data, status=201)


class WorkloadView(View):
    scopes = {"GET": "desk:read"}
    query_serializer = WorkloadQuery

    @extend_schema(operation_id="club_desk_workload", responses=page_of(WorkloadSerializer))
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """Each adviser with what they have now, and took and answered in a period."""
        advisers = workload.workload(
            self.person,
            club_id,
            since=self.query.get("since"),
            until=self.query.get("until"),
        )
        return page(request, advisers, self.query, WorkloadSerializer)
