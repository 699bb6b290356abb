"""Views of a group's ledger: translation only."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.expenses import selectors, services
from apps.expenses.api.serializers import (
    AccountSerializer,
    EntrySerializer,
    ExpenseBody,
    LedgerBody,
    LedgerSerializer,
    PaymentBody,
    ReversalBody,
)
from apps.expenses.models import LedgerEntry
from apps.groups.needs import in_group, in_group_of_entry
from apps.groups.rules import Action
from apps.groups.selectors import group_for
from apps.http.derived import as_file
from apps.http.pages import PageQuery, page, page_of
from apps.http.renderers import CsvText, file_or_json
from apps.http.views import View, versioned_response


def paid_of(body: dict[str, Any], what: str) -> services.PaidSum:
    """Take what every payment says out of a body."""
    exchange = body.pop("exchange", None)
    return services.PaidSum(
        by=body.pop("paid_by"),
        sum=body.pop("paid"),
        on=body.pop("paid_on"),
        what=what,
        note=body.pop("note"),
        exchange=exchange and services.ExchangeRate(**exchange),
    )


def entry_response(entry: LedgerEntry, *, status: int = 200) -> Response:
    return versioned_response(entry, EntrySerializer(entry).data, status=status)


class LedgerView(View):
    put_makes = True
    scopes = {"GET": "expenses:read", "PUT": "expenses:write"}
    needs = {"PUT": in_group(Action.ACCOUNT)}

    @extend_schema(operation_id="ledger_read", responses=AccountSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """Who paid and owes how much, and the fewest payments that settle.

        Only for organisers and buyers; 404 until somebody opened it.
        """
        account = selectors.account_of(self.person, group_id)
        return versioned_response(account.ledger, AccountSerializer(account).data)

    @extend_schema(
        operation_id="ledger_set",
        request=LedgerBody,
        responses={200: LedgerSerializer, 201: LedgerSerializer},
    )
    def put(self, request: Request, group_id: uuid.UUID) -> Response:
        """Open the ledger in a currency, which can be changed until the first entry."""
        group, known = selectors.ledger_if_any(self.person, group_id)
        ledger = services.ledger_set(
            group=group,
            by=self.person,
            expected_version=self.expected_of(known),
            **self.read_body(LedgerBody),
        )
        status = 201 if known is None else 200
        return versioned_response(ledger, LedgerSerializer(ledger).data, status=status)


class LedgerTableView(View):
    scopes = {"GET": "expenses:read"}
    renderer_classes = file_or_json(CsvText)

    @extend_schema(
        operation_id="ledger_csv", responses={(200, CsvText.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The ledger as a table (RFC 4180): a row for each entry, a column for each person."""
        table = selectors.ledger_csv(self.person, group_id)
        return as_file(table, "text/csv; charset=utf-8", "ledger.csv")


class LedgerEntriesView(View):
    scopes = {"GET": "expenses:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="ledger_entries_list", responses=page_of(EntrySerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """All entries; those taken back and what takes them back included."""
        entries = selectors.entries_of(self.person, group_id)
        return page(request, entries, self.query, EntrySerializer)


class LedgerEntryView(View):
    scopes = {"GET": "expenses:read"}

    @extend_schema(operation_id="ledger_entries_read", responses=EntrySerializer)
    def get(self, request: Request, entry_id: uuid.UUID) -> Response:
        """One entry."""
        return entry_response(selectors.entry_for(self.person, entry_id))


class ExpensesView(View):
    scopes = {"POST": "expenses:write"}
    needs = {"POST": in_group(Action.ACCOUNT)}

    @extend_schema(
        operation_id="expenses_create", request=ExpenseBody, responses={201: EntrySerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Record what somebody paid for several, and who shares it by which rule.

        The parts add up to the amount: cents that are left over go to the largest remainders. The
        entry never changes; a mistake is taken back by a reversal.
        """
        body = self.read_body(ExpenseBody)
        entry = services.expense_add(
            group=group_for(self.person, group_id),
            by=self.person,
            paid=paid_of(body, body.pop("what")),
            **body,
        )
        return entry_response(entry, status=201)


class PaymentsView(View):
    scopes = {"POST": "expenses:write"}
    needs = {"POST": in_group(Action.ACCOUNT)}

    @extend_schema(
        operation_id="payments_create", request=PaymentBody, responses={201: EntrySerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Record that somebody paid somebody in the group. No money is moved by this."""
        body = self.read_body(PaymentBody)
        entry = services.payment_add(
            group=group_for(self.person, group_id),
            by=self.person,
            paid=paid_of(body, "Settled"),
            **body,
        )
        return entry_response(entry, status=201)


class ReversalsView(View):
    scopes = {"POST": "expenses:write"}
    needs = {"POST": in_group_of_entry(Action.ACCOUNT)}

    @extend_schema(
        operation_id="ledger_entries_reverse",
        request=ReversalBody,
        responses={201: EntrySerializer},
    )
    def post(self, request: Request, entry_id: uuid.UUID) -> Response:
        """Take an entry back, with the reason. Both stay in the ledger."""
        entry = services.entry_reverse(
            entry=selectors.entry_for(self.person, entry_id),
            by=self.person,
            **self.read_body(ReversalBody),
        )
        return entry_response(entry, status=201)
