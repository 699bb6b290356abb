"""The catalogue for everybody who is signed in: one page each, with an ETag of the edition."""

from dataclasses import astuple
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from apps.catalogue import selectors
from apps.catalogue.api.serializers import (
    CautionListSerializer,
    CheckpointHistorySerializer,
    CheckpointListSerializer,
    CheckpointQuery,
    RemedyHistorySerializer,
    RemedyListSerializer,
    RemedyQuery,
    ScaleListSerializer,
    cost,
)
from apps.catalogue.rows import three_points
from apps.http.views import View


def catalogue_response(
    serializer_class: type[serializers.Serializer[Any]], **payload: Any
) -> Response:
    """An answer with an ETag that changes whenever the catalogue is loaded with changes."""
    edition = selectors.current_edition()
    yard_rate = cost(astuple(three_points(edition, "yard_rate")), edition.currency)
    payload |= {"edition": edition.number, "yard_rate": yard_rate, "next": None}
    answer = Response(serializer_class(payload, context={"currency": edition.currency}).data)
    answer["ETag"] = f'"catalogue-{edition.number}"'
    return answer


class CheckpointsView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = CheckpointQuery

    @extend_schema(operation_id="checkpoints_list", responses=CheckpointListSerializer)
    def get(self, request: Request) -> Response:
        """What to look at on a boat, in walking order.

        Looking is not a survey: where `guarded` is true, only a professional clears a doubt.
        """
        found = selectors.current_checkpoints(**self.query)
        return catalogue_response(CheckpointListSerializer, results=found)


class CheckpointView(View):
    scopes = {"GET": "lists:read"}

    @extend_schema(operation_id="checkpoints_read", responses=CheckpointHistorySerializer)
    def get(self, request: Request, code: str) -> Response:
        """One checkpoint with all its versions, also if it is retired."""
        found = selectors.checkpoint_versions(code)
        retired = found[0].checkpoint.current_id is None
        return catalogue_response(
            CheckpointHistorySerializer, code=code, retired=retired, versions=found
        )


class RemediesView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = RemedyQuery

    @extend_schema(operation_id="remedies_list", responses=RemedyListSerializer)
    def get(self, request: Request) -> Response:
        """What can be repaired and its cost: an estimate until a yard has quoted."""
        return catalogue_response(
            RemedyListSerializer, results=selectors.current_remedies(**self.query)
        )


class RemedyView(View):
    scopes = {"GET": "lists:read"}

    @extend_schema(operation_id="remedies_read", responses=RemedyHistorySerializer)
    def get(self, request: Request, code: str) -> Response:
        """One remedy with all its versions, also if it is retired."""
        found = selectors.remedy_versions(code)
        retired = found[0].remedy.current_id is None
        return catalogue_response(
            RemedyHistorySerializer, code=code, retired=retired, versions=found
        )


class CautionsView(View):
    scopes = {"GET": "lists:read"}

    @extend_schema(operation_id="cautions_list", responses=CautionListSerializer)
    def get(self, request: Request) -> Response:
        """What may hurt the person who looks. Local codes and licensed people come first."""
        return catalogue_response(CautionListSerializer, results=selectors.current_cautions())


class ScalesView(View):
    scopes = {"GET": "lists:read"}

    @extend_schema(operation_id="scales_list", responses=ScaleListSerializer)
    def get(self, request: Request) -> Response:
        """How measured values give levels, with the source of each scale."""
        return catalogue_response(ScaleListSerializer, results=selectors.current_scales())
