"""Quotes: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_quote
from apps.groups.rules import Action
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.purchase import selectors, services
from apps.purchase.api.serializers import LiveQuery, QuoteBody, QuoteSerializer
from apps.purchase.models import Quote


class QuotesView(View):
    scopes = {"GET": "lists:read", "POST": "quotes:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = LiveQuery

    @extend_schema(operation_id="quotes_list", responses=page_of(QuoteSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The quotes of yards and trades for this boat, withdrawn ones included."""
        quotes = selectors.of_candidate(
            Quote, self.person, candidate_id, live_only=self.query["live"]
        )
        return page(request, quotes, self.query, QuoteSerializer)

    @extend_schema(
        operation_id="quotes_create", request=QuoteBody, responses={201: QuoteSerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record a quote for a remedy: it replaces the catalogue's estimate on this boat.

        Of several quotes for one remedy, the newest valid one counts.
        """
        body = self.read_body(QuoteBody)
        price = body.pop("price")
        quote = services.quote_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            amount=price.amount,
            currency=price.currency,
            **body,
        )
        return versioned_response(quote, QuoteSerializer(quote).data, status=201)


class QuoteView(View):
    scopes = {"GET": "lists:read", "DELETE": "quotes:write"}
    needs = {"DELETE": in_group_of_quote(Action.ADD)}

    @extend_schema(operation_id="quotes_read", responses=QuoteSerializer)
    def get(self, request: Request, quote_id: uuid.UUID) -> Response:
        """One quote."""
        quote = selectors.one_for(Quote, self.person, quote_id)
        return versioned_response(quote, QuoteSerializer(quote).data)

    @extend_schema(operation_id="quotes_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, quote_id: uuid.UUID) -> Response:
        """Withdraw a quote: it no longer counts, but stays on record."""
        quote = selectors.one_for(Quote, self.person, quote_id)
        services.withdraw(
            record=quote, by=self.person, expected_version=self.expected_version(quote)
        )
        return no_content()
