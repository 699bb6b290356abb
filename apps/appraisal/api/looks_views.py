"""Next looks, raters, explanations and what-if: translation only."""

import uuid

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.appraisal.api.looks_serializers import (
    ExplanationSerializer,
    NextLooksQuery,
    NextLooksSerializer,
)
from apps.appraisal.api.offering_serializers import OfferAdviceSerializer
from apps.appraisal.api.rater_serializers import RatersSerializer
from apps.appraisal.api.views import DerivedView
from apps.appraisal.api.what_if_serializers import (
    SellerEffectSerializer,
    WhatIfBody,
    WhatIfSerializer,
    changes_of,
)
from apps.appraisal.board import documents
from apps.appraisal.board.seller_effect import seller_effect
from apps.appraisal.board.what_if import what_if
from apps.appraisal.jobs import Of
from apps.appraisal.looks import looks_selectors as selectors
from apps.appraisal.looks.offer_advice import offer_advice_of
from apps.http.derived import as_file, derived, unless_held
from apps.http.renderers import SvgPicture, file_or_json
from apps.http.views import View


class NextLooksView(DerivedView):
    query_serializer = NextLooksQuery
    of = Of.LOOKS

    @extend_schema(operation_id="next_looks_read", responses=NextLooksSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> HttpResponse:
        """The value of further looks in money: checks, visits, surveys, questions to the seller.

        These values depend on what buyers think of the boats, so they are computed from the
        opinions
        that you may see. `of_costs` gives the effect of looks on the expected costs alone, which
        depends on nobody's opinion.
        """
        reading = self.of_list(list_id)
        trip_cost, conditions = self.query.get("trip_cost"), self.query["conditions"]
        etag = selectors.looks_etag(reading, trip_cost, conditions)
        if conditions:
            return unless_held(
                request, etag, lambda: selectors.next_looks_of(reading, trip_cost, conditions)
            )
        return unless_held(request, etag, lambda: selectors.next_looks_answer(reading, trip_cost))


class RatersView(DerivedView):
    of = Of.LOOKS

    @extend_schema(operation_id="raters_read", responses=RatersSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> HttpResponse:
        """How each person tends to grade, and how far people agree.

        A lean is no fault: the results correct for it. Use this to understand each other's
        findings, not to rank people.
        """
        reading = self.of_list(list_id)
        return unless_held(request, reading.etag("raters"), lambda: selectors.raters_of(reading))


class ExplanationView(DerivedView):
    of = Of.LOOKS

    @extend_schema(operation_id="explanation_read", responses=ExplanationSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> HttpResponse:
        """Where her cost comes from, and the few facts that would change her place."""
        reading = self.of_candidate(candidate_id)
        etag = reading.etag("explanation", candidate=candidate_id)
        return unless_held(request, etag, lambda: selectors.explanation_of(reading, candidate_id))


class OfferAdviceView(DerivedView):
    of = Of.LOOKS

    @extend_schema(operation_id="offer_advice_read", responses=OfferAdviceSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> HttpResponse:
        """What to offer for her: where to open, what to aim at, where to walk away, and why.

        With what was found that the seller could be asked to put right or to take off the price,
        safety first. What depends on valuations is computed from those that you may see.
        """
        reading = self.of_candidate(candidate_id)
        etag = reading.etag("offer advice", candidate=candidate_id)
        return unless_held(request, etag, lambda: offer_advice_of(reading, candidate_id))


class ExplanationSvgView(DerivedView):
    renderer_classes = file_or_json(SvgPicture)

    @extend_schema(
        operation_id="explanation_svg", responses={(200, SvgPicture.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """From the asking price to the all-in cost, step by step, as a picture."""
        explanation = selectors.explanation_read(self.person, candidate_id, self.query["wait"])
        picture = documents.waterfall_picture(explanation)
        return as_file(picture, SvgPicture.media_type, "explanation.svg")


class WhatIfView(View):
    # It only reads and computes: a transaction would block writers meanwhile.
    atomic_writes = False
    scopes = {"POST": "results:read"}

    @extend_schema(operation_id="what_if", request=WhatIfBody, responses=WhatIfSerializer)
    def post(self, request: Request, list_id: uuid.UUID) -> Response:
        """The board as it would be with the given changes. Nothing is stored.

        Opinions that are hidden from you are left out, as they are on your board.
        """
        changes = changes_of(self.read_body(WhatIfBody))
        return Response(what_if(self.person, list_id, changes))


class SellerEffectView(View):
    scopes = {"GET": "results:read"}

    @extend_schema(operation_id="seller_effect_read", responses=SellerEffectSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What the answers of a boat's seller change for her: without them, and with them.

        `falls_out` says whether she is advised to be struck off only because of them, before
        anybody travelled. The board has them in already.
        """
        return derived(SellerEffectSerializer(seller_effect(self.person, candidate_id)).data)
