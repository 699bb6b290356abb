"""Views of follow-ups and clearances."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_follow_up
from apps.groups.rules import Action
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.viewings import selectors, services
from apps.viewings.api.serializers import (
    ClearanceBody,
    ClearanceQuery,
    ClearanceSerializer,
    FollowUpBody,
    FollowUpChange,
    FollowUpQuery,
    FollowUpSerializer,
)
from apps.viewings.models import FollowUp


class FollowUpsView(View):
    scopes = {"GET": "lists:read", "POST": "plans:write"}
    needs = {"POST": in_group_of_candidate(Action.PLAN)}
    query_serializer = FollowUpQuery

    @extend_schema(operation_id="follow_ups_list", responses=page_of(FollowUpSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The questions about a candidate, including settled ones."""
        follow_ups = selectors.follow_ups_of(
            self.person,
            candidate_id,
            state=self.query.get("state"),
            assignee=self.query.get("assignee"),
        )
        return page(request, follow_ups, self.query, FollowUpSerializer)

    @extend_schema(
        operation_id="follow_ups_create", request=FollowUpBody, responses={201: FollowUpSerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Add a question."""
        follow_up = services.follow_up_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(FollowUpBody),
        )
        return follow_up_response(follow_up, status=201)


class FollowUpView(View):
    scopes = {"GET": "lists:read", "PATCH": "plans:write"}
    needs = {"PATCH": in_group_of_follow_up(Action.PLAN)}

    @extend_schema(operation_id="follow_ups_read", responses=FollowUpSerializer)
    def get(self, request: Request, follow_up_id: uuid.UUID) -> Response:
        """One question."""
        return follow_up_response(selectors.follow_up_for(self.person, follow_up_id))

    @extend_schema(
        operation_id="follow_ups_change", request=FollowUpChange, responses=FollowUpSerializer
    )
    def patch(self, request: Request, follow_up_id: uuid.UUID) -> Response:
        """Change the fields sent: reassign it, answer it (with `state`), or drop it."""
        follow_up = selectors.follow_up_for(self.person, follow_up_id)
        services.follow_up_change(
            follow_up=follow_up,
            by=self.person,
            expected_version=self.expected_version(follow_up),
            **self.read_body(FollowUpChange, partial=True),
        )
        return follow_up_response(selectors.follow_up_for(self.person, follow_up_id))


def follow_up_response(follow_up: FollowUp, *, status: int = 200) -> Response:
    return versioned_response(follow_up, FollowUpSerializer(follow_up).data, status=status)


class ClearancesView(View):
    scopes = {"GET": "findings:read", "POST": "findings:write"}
    needs = {"POST": in_group_of_candidate(Action.CLEAR)}
    query_serializer = ClearanceQuery

    @extend_schema(operation_id="clearances_list", responses=page_of(ClearanceSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The clearances of a candidate's doubts, including withdrawn ones."""
        clearances = selectors.clearances_of(
            self.person, candidate_id, live_only=self.query["live"]
        )
        return page(request, clearances, self.query, ClearanceSerializer)

    @extend_schema(
        operation_id="clearances_create",
        request=ClearanceBody,
        responses={201: ClearanceSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record a professional's finding, a documented repair or a receipt that closes doubts.

        It closes doubts that were seen up to the date of its document. A professional must be a
        surveyor or of the trade that the checkpoint names. A receipt counts if the checklist has
        `receipt_clears`: dated gear and other small parts.
        """
        clearance = services.clearance_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(ClearanceBody),
        )
        return versioned_response(clearance, ClearanceSerializer(clearance).data, status=201)


def withdrawer(person: Person, named: Mapping[str, Any]) -> None:
    clearance = selectors.clearance_for(person, named["clearance_id"])
    services.require_clearance_withdrawer(clearance, person)


class ClearanceView(View):
    scopes = {"GET": "findings:read", "DELETE": "findings:write"}
    needs = {"DELETE": withdrawer}

    @extend_schema(operation_id="clearances_read", responses=ClearanceSerializer)
    def get(self, request: Request, clearance_id: uuid.UUID) -> Response:
        """One clearance."""
        clearance = selectors.clearance_for(self.person, clearance_id)
        return versioned_response(clearance, ClearanceSerializer(clearance).data)

    @extend_schema(operation_id="clearances_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, clearance_id: uuid.UUID) -> Response:
        """Withdraw a clearance: the doubts that it closed are open again. It stays on record."""
        clearance = selectors.clearance_for(self.person, clearance_id)
        services.clearance_withdraw(
            clearance=clearance,
            by=self.person,
            expected_version=self.expected_version(clearance),
        )
        return no_content()
