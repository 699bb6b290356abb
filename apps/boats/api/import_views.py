"""Boats from a table: translation only."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats import selectors
from apps.boats.api.import_serializers import CandidateImportBody, CandidateImportSerializer
from apps.boats.api.importing import table_import
from apps.boats.models import Candidate
from apps.boats.tables import CellFault, TableRow
from apps.groups.needs import in_group_of_list
from apps.groups.rules import Action
from apps.http.problems import ProblemResponse
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
        imported = table_import(
            candidate_list=candidate_list, by=self.person, text=body["csv"], dry_run=dry_run
        )
        faults = imported.faults
        report = _report(imported.rows, faults, imported.candidates)
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
