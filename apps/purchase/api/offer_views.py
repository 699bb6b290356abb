"""Offers: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_offer
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, versioned_response
from apps.purchase import selectors
from apps.purchase.api.offer_serializers import OfferAnswerBody, OfferSerializer, PriceOfferBody
from apps.purchase.offers import services
from apps.purchase.offers.models import Offer


class OffersView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = PageQuery

    @extend_schema(operation_id="offers_list", responses=page_of(OfferSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The offers for this boat and the seller's counters, with what became of them."""
        offers = selectors.of_candidate(Offer, self.person, candidate_id)
        return page(request, offers, self.query, OfferSerializer)

    @extend_schema(
        operation_id="offers_create", request=PriceOfferBody, responses={201: OfferSerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record a price that you or the seller named; it counters the one on the table.

        The boat moves to the stage `offer`, and results reckon with this price. What you record
        here binds nobody: the contract and the law of the place of sale do.
        """
        body = self.read_body(PriceOfferBody)
        price = body.pop("price")
        offer = services.offer_make(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            amount=price.amount,
            currency=price.currency,
            **body,
        )
        return versioned_response(offer, OfferSerializer(offer).data, status=201)


class OfferView(View):
    scopes = {"GET": "lists:read", "PATCH": "lists:write"}
    needs = {"PATCH": in_group_of_offer(Action.ADD)}

    @extend_schema(operation_id="offers_read", responses=OfferSerializer)
    def get(self, request: Request, offer_id: uuid.UUID) -> Response:
        """One offer."""
        offer = selectors.one_for(Offer, self.person, offer_id)
        return versioned_response(offer, OfferSerializer(offer).data)

    @extend_schema(operation_id="offers_answer", request=OfferAnswerBody, responses=OfferSerializer)
    def patch(self, request: Request, offer_id: uuid.UUID) -> Response:
        """Record what became of it: accepted, refused or withdrawn.

        Refused or withdrawn, the boat goes back to the stage she came from. An accepted one may
        still be withdrawn, for instance after the survey, or answered by another price.
        """
        offer = selectors.one_for(Offer, self.person, offer_id)
        offer = services.offer_answer(
            offer=offer,
            by=self.person,
            expected_version=self.expected_version(offer),
            **self.read_body(OfferAnswerBody),
        )
        return versioned_response(offer, OfferSerializer(offer).data)
