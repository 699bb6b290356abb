"""The handover of a boat: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_handover_item
from apps.groups.rules import Action
from apps.http.derived import derived
from apps.http.views import View, versioned_response
from apps.ownership.api.handover_serializers import (
    AddedItemsSerializer,
    HandedOverSerializer,
    HandoverBody,
    HandoverFactsSerializer,
    HandoverItemBody,
    HandoverItemChangeBody,
    HandoverItemSerializer,
    UsualItemsBody,
)
from apps.ownership.handover import selectors, services
from apps.ownership.handover.usual import HANDOVER_CAUTION


class HandoverView(View):
    put_makes = True
    scopes = {"GET": "ownership:read", "PUT": "ownership:write"}
    needs = {"PUT": in_group_of_candidate(Action.ADD)}

    @extend_schema(operation_id="handover_read", responses=HandoverFactsSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The facts of the bill of sale and of the day; 404 until somebody recorded them."""
        candidate = candidate_for(self.person, candidate_id)
        handover = selectors.handover_recorded(candidate)
        return versioned_response(handover, HandoverFactsSerializer(handover).data)

    @extend_schema(
        operation_id="handover_set",
        request=HandoverBody,
        responses={200: HandoverFactsSerializer, 201: HandoverFactsSerializer},
    )
    def put(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record the facts of the bill of sale and of the day of the handover."""
        candidate = candidate_for(self.person, candidate_id)
        known = selectors.handover_if_any(candidate)
        handover = services.handover_set(
            candidate=candidate,
            by=self.person,
            expected_version=self.expected_of(known),
            **self.read_body(HandoverBody),
        )
        status = 201 if known is None else 200
        return versioned_response(handover, HandoverFactsSerializer(handover).data, status=status)


class HandoverItemsView(View):
    scopes = {"GET": "ownership:read", "POST": "ownership:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}

    @extend_schema(operation_id="handover_items_list", responses=HandedOverSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What goes with her, and what was found; with what is usually handed over besides."""
        read = selectors.handover_of(self.person, candidate_id)
        answer = {"caution": HANDOVER_CAUTION, "items": read.items, "usual": read.usual}
        return derived(HandedOverSerializer(answer).data)

    @extend_schema(
        operation_id="handover_items_add",
        request=HandoverItemBody,
        responses={201: HandoverItemSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Add something that goes with her."""
        item = services.item_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(HandoverItemBody),
        )
        return versioned_response(item, HandoverItemSerializer(item).data, status=201)


class UsualItemsView(View):
    scopes = {"POST": "ownership:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}

    @extend_schema(
        operation_id="handover_items_add_usual",
        request=UsualItemsBody,
        responses={201: AddedItemsSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Add items of the usual list, by their codes."""
        items = services.usual_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(UsualItemsBody),
        )
        return Response(AddedItemsSerializer({"items": items}).data, status=201)


class HandoverItemView(View):
    scopes = {"GET": "ownership:read", "PATCH": "ownership:write"}
    needs = {"PATCH": in_group_of_handover_item(Action.ADD)}

    @extend_schema(operation_id="handover_items_read", responses=HandoverItemSerializer)
    def get(self, request: Request, item_id: uuid.UUID) -> Response:
        """One item, and who found how many of it."""
        item = selectors.item_for(self.person, item_id)
        return versioned_response(item, HandoverItemSerializer(item).data)

    @extend_schema(
        operation_id="handover_items_change",
        request=HandoverItemChangeBody,
        responses=HandoverItemSerializer,
    )
    def patch(self, request: Request, item_id: uuid.UUID) -> Response:
        """Say how many were found, where they are and in which state."""
        item = selectors.item_for(self.person, item_id)
        item = services.item_change(
            item=item,
            by=self.person,
            expected_version=self.expected_version(item),
            **self.read_body(HandoverItemChangeBody, partial=True),
        )
        return versioned_response(item, HandoverItemSerializer(item).data)
