"""Views of requests, for the group that asks."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_request
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.second_opinions import asking, selectors
from apps.second_opinions.api.request_serializers import (
    GroupAssignmentSerializer,
    SecondOpinionRequestBody,
    SecondOpinionRequestQuery,
    SecondOpinionRequestSerializer,
    SecondOpinionStepSerializer,
)


class CandidateSecondOpinionRequestsView(View):
    scopes = {"GET": "second_opinions:read", "POST": "second_opinions:write"}
    needs = {"POST": in_group_of_candidate(Action.ASK)}
    query_serializer = SecondOpinionRequestQuery

    @extend_schema(
        operation_id="candidate_look_requests_list",
        responses=page_of(SecondOpinionRequestSerializer),
    )
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The group's requests about this boat to others of its club."""
        requests = selectors.requests_of_candidate(
            self.person, candidate_id, state=self.query.get("state")
        )
        return page(request, requests, self.query, SecondOpinionRequestSerializer)

    @extend_schema(
        operation_id="look_requests_create",
        request=SecondOpinionRequestBody,
        responses={201: SecondOpinionRequestSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Ask the club's advisers for a second opinion on this boat.

        One of them takes it and sees the boat, and nothing else of the group, until they answer or
        hand it back, or you end it. Their findings count like a member's; this is a screening by a
        volunteer, not a survey.
        """
        made = asking.second_opinion_ask(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(SecondOpinionRequestBody),
        )
        return request_response(self.person, made.pk, status=201)


class GroupSecondOpinionRequestsView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = SecondOpinionRequestQuery

    @extend_schema(
        operation_id="group_look_requests_list", responses=page_of(SecondOpinionRequestSerializer)
    )
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """All requests of the group."""
        requests = selectors.requests_of_group(self.person, group_id, state=self.query.get("state"))
        return page(request, requests, self.query, SecondOpinionRequestSerializer)


class SecondOpinionRequestView(View):
    scopes = {"GET": "second_opinions:read", "DELETE": "second_opinions:write"}
    needs = {"DELETE": in_group_of_request(Action.ASK)}

    @extend_schema(operation_id="look_requests_read", responses=SecondOpinionRequestSerializer)
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """One request, who has it now, and its result."""
        return request_response(self.person, request_id)

    @extend_schema(operation_id="look_requests_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, request_id: uuid.UUID) -> Response:
        """Withdraw it. The person who has it loses access; submitted findings stay."""
        asked = selectors.request_for(self.person, request_id)
        asking.second_opinion_withdraw(
            request=asked, by=self.person, expected_version=self.expected_version(asked)
        )
        return no_content()


def request_response(reader: Person, request_id: uuid.UUID, *, status: int = 200) -> Response:
    asked = selectors.request_for(reader, request_id)
    answer = SecondOpinionRequestSerializer(asked).data
    # New findings do not change the version of the request.
    return versioned_response(asked, answer, status=status, variant=str(len(answer["submissions"])))


class SecondOpinionRequestStepsView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = PageQuery

    @extend_schema(
        operation_id="look_request_steps_list", responses=page_of(SecondOpinionStepSerializer)
    )
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """The steps of a request: who did what and when."""
        steps = selectors.steps_of(self.person, request_id)
        return page(request, steps, self.query, SecondOpinionStepSerializer)


class SecondOpinionRequestAssignmentView(View):
    scopes = {"GET": "second_opinions:read", "DELETE": "second_opinions:write"}
    needs = {"DELETE": in_group_of_request(Action.ASK)}

    @extend_schema(operation_id="look_request_assignment_read", responses=GroupAssignmentSerializer)
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """The person who took the request and sees the boat now; 404 if nobody does."""
        assignment = selectors.group_assignment_for(self.person, request_id)
        return versioned_response(assignment, GroupAssignmentSerializer(assignment).data)

    @extend_schema(operation_id="look_request_assignment_end", request=None, responses={204: None})
    def delete(self, request: Request, request_id: uuid.UUID) -> Response:
        """End their access at once, also to links to pictures. Their drafts are deleted; what they
        submitted stays. The request waits for another adviser; withdraw it too if nobody else
        should take it."""
        assignment = selectors.group_assignment_for(self.person, request_id)
        asking.access_end(
            assignment=assignment,
            by=self.person,
            expected_version=self.expected_version(assignment),
        )
        return no_content()
