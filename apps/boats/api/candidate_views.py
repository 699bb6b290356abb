"""Candidates, their prices and stages: translation only."""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats import selectors, services
from apps.boats.api.candidate_serializers import (
    SERIALIZERS,
    CandidateBody,
    CandidateChangeBody,
    CandidateSerializer,
    CandidatesQuery,
    ImperialCandidateSerializer,
    PriceBody,
    PriceSerializer,
    StageChangeBody,
    StageChangeSerializer,
)
from apps.boats.api.fields import UnitsQuery
from apps.boats.quantities import pointer_as_sent
from apps.common.errors import Invalid
from apps.groups.needs import in_group_of_candidate, in_group_of_list
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, person_of, versioned_response


@contextmanager
def pointers_as_sent(body: Any) -> Iterator[None]:
    """Services use SI: point to the field in feet or pounds if the body had those."""
    try:
        yield
    except Invalid as refused:
        raise Invalid(
            [replace(f, pointer=pointer_as_sent(f.pointer, body)) for f in refused.faults]
        ) from refused


def candidate_response(
    request: Request, candidate_id: uuid.UUID, *, units: str = "si", status: int = 200
) -> Response:
    candidate = selectors.candidate_for(person_of(request), candidate_id)
    return versioned_response(candidate, SERIALIZERS[units](candidate).data, status=status)


class CandidatesView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_list(Action.ADD)}
    query_serializer = CandidatesQuery

    @extend_schema(
        operation_id="candidates_list",
        responses=PolymorphicProxySerializer(
            component_name="CandidatesPage",
            serializers=[page_of(CandidateSerializer), page_of(ImperialCandidateSerializer)],
            resource_type_field_name=None,
        ),
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The boats on the list, in any of the given stages."""
        candidates = selectors.candidates_of(
            selectors.list_for(self.person, list_id),
            stages=self.query.get("stage", ()),
            text=self.query.get("text", ""),
        )
        return page(request, candidates, self.query, SERIALIZERS[self.query["units"]])

    @extend_schema(
        operation_id="candidates_create",
        request=CandidateBody,
        responses={201: CandidateSerializer},
    )
    def post(self, request: Request, list_id: uuid.UUID) -> Response:
        """Add a boat to the list, with her known particulars. The answer is in SI."""
        candidate_list = selectors.list_for(self.person, list_id)
        facts = self.read_body(CandidateBody)
        asking = facts.pop("asking", None)
        with pointers_as_sent(request.data):
            candidate = services.candidate_create(
                id=facts.pop("id", None),
                candidate_list=candidate_list,
                by=self.person,
                facts=facts,
                asking=asking and (asking.amount, asking.currency),
            )
        return candidate_response(request, candidate.pk, status=201)


class CandidateView(View):
    scopes = {"GET": "lists:read", "PATCH": "lists:write"}
    needs = {"PATCH": in_group_of_candidate(Action.ADD)}
    query_serializer = UnitsQuery

    @extend_schema(
        operation_id="candidates_read",
        responses=PolymorphicProxySerializer(
            component_name="CandidateInUnits",
            serializers=[CandidateSerializer, ImperialCandidateSerializer],
            resource_type_field_name=None,
        ),
    )
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """One boat: particulars and how they are known, price, place, stage, design ratios."""
        return candidate_response(request, candidate_id, units=self.query["units"])

    @extend_schema(
        operation_id="candidates_change",
        request=CandidateChangeBody,
        responses=CandidateSerializer,
    )
    def patch(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Change what is known of a boat. Only the fields sent change; the answer is in SI."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        expected_version = self.expected_version(candidate)
        facts = self.read_body(CandidateChangeBody, partial=True)
        with pointers_as_sent(request.data):
            services.candidate_change(
                candidate=candidate,
                by=self.person,
                facts=facts,
                expected_version=expected_version,
            )
        return candidate_response(request, candidate_id)


class StageChangesView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = PageQuery

    @extend_schema(operation_id="stage_changes_list", responses=page_of(StageChangeSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Every stage of the boat so far: who moved her, when and why."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        changes = selectors.stage_changes_of(candidate)
        return page(request, changes, self.query, StageChangeSerializer)

    @extend_schema(
        operation_id="stage_changes_create",
        request=StageChangeBody,
        responses={201: StageChangeSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Move the boat to another stage; strike her off with a reason, or reinstate her."""
        change = services.stage_change(
            candidate=selectors.candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(StageChangeBody),
        )
        return Response(StageChangeSerializer(change).data, status=201)


class PricesView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = PageQuery

    @extend_schema(operation_id="prices_list", responses=page_of(PriceSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The asking prices of the boat, with their days."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        return page(request, selectors.prices_of(candidate), self.query, PriceSerializer)

    @extend_schema(
        operation_id="prices_create", request=PriceBody, responses={201: PriceSerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record an asking price. The one of the latest day is the current one."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        body = self.read_body(PriceBody)
        asking = body.pop("asking")
        record = services.price_add(
            candidate=candidate,
            by=self.person,
            amount=asking.amount,
            currency=asking.currency,
            **body,
        )
        return Response(PriceSerializer(record).data, status=201)
