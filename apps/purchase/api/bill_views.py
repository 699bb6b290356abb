"""Bills: translation only."""

import uuid

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_bill, in_group_of_candidate
from apps.groups.rules import Action
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.purchase import bill_services, selectors, services
from apps.purchase.api.bill_serializers import BillBody, BillChangeBody, BillSerializer
from apps.purchase.api.serializers import LiveQuery
from apps.purchase.models import Bill

EXAMPLE = OpenApiExample(
    "A yard's invoice",
    value={
        "remedy": "reseal-keel-joint",
        "paid": {"amount": "2150.00", "currency": "USD"},
        "done_by": "professional",
        "includes_enabling": True,
        "document": "Invoice 212 of the yard by the ferry",
        "dated_on": "2025-04-20",
    },
    request_only=True,
)


class BillsView(View):
    scopes = {"GET": "lists:read", "POST": "quotes:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = LiveQuery

    @extend_schema(operation_id="bills_list", responses=page_of(BillSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The final costs of remedies on this boat, withdrawn bills included."""
        bills = selectors.of_candidate(
            Bill, self.person, candidate_id, live_only=self.query["live"]
        )
        return page(request, bills, self.query, BillSerializer)

    @extend_schema(
        operation_id="bills_create",
        request=BillBody,
        responses={201: BillSerializer},
        examples=[EXAMPLE],
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record the final cost of a remedy, with its invoice or receipt.

        It changes no result of the list: record the repair itself as a clearance. If the group
        shares its surveys' findings, the club's statistics compare the bill with the estimate.
        """
        bill = bill_services.bill_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(BillBody),
        )
        return versioned_response(bill, BillSerializer(bill).data, status=201)


class BillView(View):
    scopes = {"GET": "lists:read", "PATCH": "quotes:write", "DELETE": "quotes:write"}
    needs = {"PATCH": in_group_of_bill(Action.ADD), "DELETE": in_group_of_bill(Action.ADD)}

    @extend_schema(operation_id="bills_read", responses=BillSerializer)
    def get(self, request: Request, bill_id: uuid.UUID) -> Response:
        """One bill."""
        bill = selectors.one_for(Bill, self.person, bill_id)
        return versioned_response(bill, BillSerializer(bill).data)

    @extend_schema(operation_id="bills_change", request=BillChangeBody, responses=BillSerializer)
    def patch(self, request: Request, bill_id: uuid.UUID) -> Response:
        """Correct a bill."""
        bill = selectors.one_for(Bill, self.person, bill_id)
        bill = bill_services.bill_change(
            bill=bill,
            by=self.person,
            expected_version=self.expected_version(bill),
            **self.read_body(BillChangeBody, partial=True),
        )
        return versioned_response(bill, BillSerializer(bill).data)

    @extend_schema(operation_id="bills_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, bill_id: uuid.UUID) -> Response:
        """Withdraw a bill: it no longer counts, but stays on record."""
        bill = selectors.one_for(Bill, self.person, bill_id)
        services.withdraw(record=bill, by=self.person, expected_version=self.expected_version(bill))
        return no_content()
