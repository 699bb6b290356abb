"""Views of other programs in a group."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.groups import programs
from apps.groups.api.program_serializers import (
    NewProgramSerializer,
    ProgramBody,
    ProgramChange,
    ProgramSerializer,
)
from apps.groups.needs import in_group, in_group_of_program
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response


class ProgramsView(View):
    scopes = {"GET": "lists:read"}
    needs = {"POST": in_group(Action.MANAGE)}
    query_serializer = PageQuery
    secret_fields = ("client_secret",)

    @extend_schema(operation_id="programs_list", responses=page_of(ProgramSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """Programs in the group: its own, and those that members allowed to act for them."""
        found = programs.programs_of(self.person, group_id)
        return page(request, found, self.query, ProgramSerializer)

    @extend_schema(
        operation_id="programs_add", request=ProgramBody, responses={201: NewProgramSerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Add a program to this group, with its own name, role and scopes.

        It gets its tokens from POST /oauth/token with the grant type client_credentials.
        """
        added, secret = programs.program_add(
            group_id=group_id, by=self.person, **self.read_body(ProgramBody)
        )
        added = programs.program_for(self.person, added.pk)
        added.client_secret = secret
        return versioned_response(added, NewProgramSerializer(added).data, status=201)


class ProgramView(View):
    scopes = {"GET": "lists:read"}
    needs = {
        "PATCH": in_group_of_program(Action.MANAGE),
        "DELETE": in_group_of_program(Action.MANAGE),
    }

    @extend_schema(operation_id="programs_read", responses=ProgramSerializer)
    def get(self, request: Request, program_id: uuid.UUID) -> Response:
        """One program in one group."""
        found = programs.program_for(self.person, program_id)
        return versioned_response(found, ProgramSerializer(found).data)

    @extend_schema(
        operation_id="programs_change", request=ProgramChange, responses=ProgramSerializer
    )
    def patch(self, request: Request, program_id: uuid.UUID) -> Response:
        """Change what a program may do. Only the fields sent change, and at once.

        A program that acts for members can only be disabled in the group or enabled again.
        """
        found = programs.program_for(self.person, program_id)
        programs.program_change(
            group_program=found,
            by=self.person,
            expected_version=self.expected_version(found),
            changes=self.read_body(ProgramChange, partial=True),
        )
        found = programs.program_for(self.person, program_id)
        return versioned_response(found, ProgramSerializer(found).data)

    @extend_schema(operation_id="programs_retire", request=None, responses={204: None})
    def delete(self, request: Request, program_id: uuid.UUID) -> Response:
        """End a program of the group for good. What it posted stays on record."""
        found = programs.program_for(self.person, program_id)
        programs.program_retire(
            group_program=found,
            by=self.person,
            expected_version=self.expected_version(found),
        )
        return no_content()
