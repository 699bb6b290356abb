"""Views of viewings."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_viewing
from apps.groups.rules import Action
from apps.http.pages import page, page_of
from apps.http.views import View, versioned_response
from apps.viewings import selectors, services
from apps.viewings.api.serializers import (
    ViewingBody,
    ViewingChange,
    ViewingQuery,
    ViewingSerializer,
)
from apps.viewings.models import Viewing


class ViewingsView(View):
    scopes = {"GET": "lists:read", "POST": "plans:write"}
    needs = {"POST": in_group_of_candidate(Action.PLAN)}
    query_serializer = ViewingQuery

    @extend_schema(operation_id="viewings_list", responses=page_of(ViewingSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The visits to a candidate and the sea trials, planned and made."""
        wanted = {name: self.query.get(name) for name in ("state", "kind")}
        viewings = selectors.viewings_of(self.person, candidate_id, **wanted)
        return page(request, viewings, self.query, ViewingSerializer)

    @extend_schema(
        operation_id="viewings_create", request=ViewingBody, responses={201: ViewingSerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Plan a visit or a sea trial, or record one that was made.

        Its kind and its conditions decide which checks are possible: see the checklist. A sea
        trial is made afloat; wind, sea, sails, engine and load are said only of one.
        """
        viewing = services.viewing_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(ViewingBody),
        )
        return viewing_response(viewing, status=201)


class ViewingView(View):
    scopes = {"GET": "lists:read", "PATCH": "plans:write"}
    needs = {"PATCH": in_group_of_viewing(Action.PLAN)}

    @extend_schema(operation_id="viewings_read", responses=ViewingSerializer)
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """One visit."""
        return viewing_response(selectors.viewing_for(self.person, viewing_id))

    @extend_schema(
        operation_id="viewings_change", request=ViewingChange, responses=ViewingSerializer
    )
    def patch(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """Change the fields sent.

        Once findings were submitted from the visit, its time, its state and its known conditions
        cannot change; unknown conditions can still be filled in.
        """
        viewing = selectors.viewing_for(self.person, viewing_id)
        services.viewing_change(
            viewing=viewing,
            by=self.person,
            expected_version=self.expected_version(viewing),
            **self.read_body(ViewingChange, partial=True),
        )
        return viewing_response(selectors.viewing_for(self.person, viewing_id))


def viewing_response(viewing: Viewing, *, status: int = 200) -> Response:
    return versioned_response(viewing, ViewingSerializer(viewing).data, status=status)
