"""Boats from a table: translation only."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats import selectors, services
from apps.boats.api.candidate_serializers import CandidateBody
from apps.boats.api.import_serializers import (
    COLUMNS,
    NEEDED,
    CandidateImportBody,
    CandidateImportSerializer,
    body_of,
    column_of,
)
from apps.boats.models import Candidate
from apps.boats.quantities import pointer_as_sent
from apps.boats.tables import CellFault, TableInvalid, TableRow, read_rows
from apps.common.errors import FieldFault
from apps.groups.needs import in_group_of_list
from apps.groups.rules import Action
from apps.http.problems import ProblemResponse, flatten
from apps.http.views import View


class BoatImportsView(View):
    scopes = {"POST": "lists:write"}
    needs = {"POST": in_group_of_list(Action.ADD)}

    @extend_schema(
        operation_id="candidates_import",
        request=CandidateImportBody,
        responses={200: CandidateImportSerializer, 201: CandidateImportSerializer},
    )
    def post(self, request: Request, list_id: uuid.UUID) -> Response:
        """Add a table of boats to the list: all of them, or none if any row has a fault.

        Without `"dry_run": false` it only reports the faults of each row (200). A refusal has the
        same rows as `rows` beside its `errors`.
        """
        candidate_list = selectors.list_for(self.person, list_id)
        body = self.read_body(CandidateImportBody)
        dry_run = body["dry_run"]
        try:
            rows = read_rows(body["csv"], COLUMNS, NEEDED)
        except TableInvalid as refused:
            return self._answer([], refused.faults, [], dry_run)
        boats, faults = _checked(rows)
        added = services.candidates_create(
            candidate_list=candidate_list,
            by=self.person,
            boats=[boat for _, boat in boats],
            dry_run=dry_run or bool(faults),
        )
        for (row, _), own in zip(boats, added.faults, strict=True):
            faults += _of_row(row, own)
        return self._answer(rows, faults, added.candidates, dry_run)

    def _answer(
        self, rows: list[TableRow], faults: list[CellFault], stored: list[Candidate], dry_run: bool
    ) -> Response:
        report = _report(rows, faults, stored)
        if faults and not dry_run:
            errors = [
                {"pointer": "/csv", "code": f.code, "detail": f"{_at(f)}: {f.detail}"}
                for f in sorted(faults, key=lambda f: f.row)
            ]
            return ProblemResponse(
                422,
                "invalid",
                "Some rows cannot be accepted: nothing was stored.",
                errors=errors,
                rows=report,
            )
        answer = {"dry_run": dry_run, "fine": not faults, "rows": report}
        return Response(CandidateImportSerializer(answer).data, status=200 if dry_run else 201)


def _checked(
    rows: list[TableRow],
) -> tuple[list[tuple[TableRow, services.NewBoat]], list[CellFault]]:
    """The rows that are boats, and the faults of the others."""
    boats, faults = [], []
    for row in rows:
        body = CandidateBody(data=body_of(row))
        if body.is_valid():
            facts = dict(body.validated_data)
            asking = facts.pop("asking", None)
            boat = services.NewBoat(
                id=facts.pop("id", None),
                asking=asking and (asking.amount, asking.currency),
                facts=facts,
            )
            boats.append((row, boat))
        else:
            details = serializers.ValidationError(body.errors).get_full_details()
            faults += _of_row(row, list(flatten(details)))
    return boats, faults


def _of_row(row: TableRow, faults: list[FieldFault]) -> list[CellFault]:
    """Faults of a body as faults of the row it was made from."""
    body = body_of(row)
    return [
        CellFault(
            row.number, column_of(pointer_as_sent(fault.pointer, body)), fault.code, fault.detail
        )
        for fault in faults
    ]


def _report(
    rows: list[TableRow], faults: list[CellFault], stored: list[Candidate]
) -> list[dict[str, Any]]:
    """Every row with its faults; one that cannot be read as a boat, the header say, has no name."""
    names = {row.number: row.cells.get("name", "") for row in rows}
    ids = dict(zip((row.number for row in rows), (boat.pk for boat in stored), strict=False))
    return [
        {
            "row": number,
            "name": names.get(number, ""),
            "candidate": ids.get(number),
            "faults": [
                {"column": f.column, "code": f.code, "detail": f.detail}
                for f in faults
                if f.row == number
            ],
        }
        for number in sorted({*names, *(fault.row for fault in faults)})
    ]


def _at(fault: CellFault) -> str:
    return f"Row {fault.row}, {fault.column}" if fault.column else f"Row {fault.row}"
