"""Asking for a look, and what became of it: the group's side. Translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.desk import asking, selectors
from apps.desk.api.request_serializers import (
    GroupTakeSerializer,
    LookRequestBody,
    LookRequestQuery,
    LookRequestSerializer,
    LookStepSerializer,
)
from apps.groups.needs import in_group_of_candidate, in_group_of_request
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response


class CandidateLookRequestsView(View):
    scopes = {"GET": "desk:read", "POST": "desk:write"}
    needs = {"POST": in_group_of_candidate(Action.ASK)}
    query_serializer = LookRequestQuery

    @extend_schema(
        operation_id="candidate_look_requests_list", responses=page_of(LookRequestSerializer)
    )
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The looks at this boat that the group asked others of its club for."""
        requests = selectors.requests_of_candidate(
            self.person, candidate_id, state=self.query.get("state")
        )
        return page(request, requests, self.query, LookRequestSerializer)

    @extend_schema(
        operation_id="look_requests_create",
        request=LookRequestBody,
        responses={201: LookRequestSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Ask the club's advisers for a second opinion on this boat.

        One of them takes it on and sees the boat, and nothing else of the group, until they
        answered or handed back, or you end it. What they find counts like a member's findings; it
        is a screening by a volunteer, not a survey.
        """
        made = asking.look_ask(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(LookRequestBody),
        )
        return shown_request(self.person, made.pk, status=201)


class GroupLookRequestsView(View):
    scopes = {"GET": "desk:read"}
    query_serializer = LookRequestQuery

    @extend_schema(
        operation_id="group_look_requests_list", responses=page_of(LookRequestSerializer)
    )
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """All looks that the group asked for."""
        requests = selectors.requests_of_group(self.person, group_id, state=self.query.get("state"))
        return page(request, requests, self.query, LookRequestSerializer)


class LookRequestView(View):
    scopes = {"GET": "desk:read", "DELETE": "desk:write"}
    needs = {"DELETE": in_group_of_request(Action.ASK)}

    @extend_schema(operation_id="look_requests_read", responses=LookRequestSerializer)
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """One request, who has it now, and what came of it."""
        return shown_request(self.person, request_id)

    @extend_schema(operation_id="look_requests_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, request_id: uuid.UUID) -> Response:
        """Withdraw it. Whoever has it sees the boat no longer; what they submitted stays."""
        asked = selectors.request_for(self.person, request_id)
        asking.look_withdraw(
            request=asked, by=self.person, expected_version=self.expected_version(asked)
        )
        return no_content()


def shown_request(reader: Person, request_id: uuid.UUID, *, status: int = 200) -> Response:
    asked = selectors.request_for(reader, request_id)
    said = LookRequestSerializer(asked).data
    # Findings come in without changing the request itself.
    return versioned_response(asked, said, status=status, variant=str(len(said["submissions"])))


class LookRequestStepsView(View):
    scopes = {"GET": "desk:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="look_request_steps_list", responses=page_of(LookStepSerializer))
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """Everything that happened to a request: who did what and when."""
        steps = selectors.steps_of(self.person, request_id)
        return page(request, steps, self.query, LookStepSerializer)


class LookRequestTakeView(View):
    scopes = {"GET": "desk:read", "DELETE": "desk:write"}
    needs = {"DELETE": in_group_of_request(Action.ASK)}

    @extend_schema(operation_id="look_request_take_read", responses=GroupTakeSerializer)
    def get(self, request: Request, request_id: uuid.UUID) -> Response:
        """Who sees the boat now, because they took the request on; 404 if nobody does."""
        take = selectors.group_take_for(self.person, request_id)
        return versioned_response(take, GroupTakeSerializer(take).data)

    @extend_schema(operation_id="look_request_take_end", request=None, responses={204: None})
    def delete(self, request: Request, request_id: uuid.UUID) -> Response:
        """End their access, at once: also to links to pictures given out before, and to drafts,
        which are thrown away. What they submitted stays. The request waits for another adviser;
        withdraw it too if none is to have it."""
        take = selectors.group_take_for(self.person, request_id)
        asking.access_end(take=take, by=self.person, expected_version=self.expected_version(take))
        return no_content()
