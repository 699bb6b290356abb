"""Lists with their briefs: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats import list_services, selectors
from apps.boats.api.list_serializers import ListBody, ListChangeBody, ListSerializer
from apps.groups.needs import in_group, in_group_of_list
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, versioned_response


class ListsView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group(Action.MANAGE)}
    query_serializer = PageQuery

    @extend_schema(operation_id="lists_list", responses=page_of(ListSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's lists, each with its brief."""
        lists = selectors.lists_of(self.person, group_id)
        return page(request, lists, self.query, ListSerializer)

    @extend_schema(operation_id="lists_create", request=ListBody, responses={201: ListSerializer})
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Start a list with its brief: the money, the rates and the rules."""
        candidate_list = list_services.list_create(
            group_id=group_id, by=self.person, **self.read_body(ListBody)
        )
        return versioned_response(candidate_list, ListSerializer(candidate_list).data, status=201)


class ListView(View):
    scopes = {"GET": "lists:read", "PATCH": "lists:write"}
    needs = {"PATCH": in_group_of_list(Action.MANAGE)}

    @extend_schema(operation_id="lists_read", responses=ListSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """One list with its brief."""
        candidate_list = selectors.list_for(self.person, list_id)
        return versioned_response(candidate_list, ListSerializer(candidate_list).data)

    @extend_schema(operation_id="lists_change", request=ListChangeBody, responses=ListSerializer)
    def patch(self, request: Request, list_id: uuid.UUID) -> Response:
        """Change the name, lines of the brief, or whether opinions are open to everybody."""
        candidate_list = selectors.list_for(self.person, list_id)
        list_services.list_change(
            candidate_list=candidate_list,
            by=self.person,
            expected_version=self.expected_version(candidate_list),
            **self.read_body(
                ListChangeBody, partial=True, context={"currency": candidate_list.currency}
            ),
        )
        return versioned_response(candidate_list, ListSerializer(candidate_list).data)
