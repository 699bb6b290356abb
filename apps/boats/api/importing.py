"""A table of boats, checked row by row and put on a list: for the API, and for a preview of it."""

from dataclasses import dataclass, field

from rest_framework import serializers

from apps.accounts.models import Person
from apps.boats import services
from apps.boats.api.candidate_serializers import CandidateBody
from apps.boats.api.import_serializers import COLUMNS, NEEDED, body_of, column_of
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.quantities import pointer_as_sent
from apps.boats.tables import CellFault, TableInvalid, TableRow, read_rows
from apps.common.errors import FieldFault
from apps.http.problems import flatten


@dataclass
class TableImport:
    """The rows that could be read, the faults of all, and the boats if they were stored."""

    rows: list[TableRow] = field(default_factory=list)
    faults: list[CellFault] = field(default_factory=list)
    candidates: list[Candidate] = field(default_factory=list)


def table_import(
    *, candidate_list: CandidateList, by: Person, text: str, dry_run: bool
) -> TableImport:
    """All boats of the table, or none if any row has a fault, or on a dry run."""
    try:
        rows = read_rows(text, COLUMNS, NEEDED)
    except TableInvalid as refused:
        return TableImport(faults=refused.faults)
    boats, faults = _checked(rows)
    added = services.candidates_create(
        candidate_list=candidate_list,
        by=by,
        boats=[boat for _, boat in boats],
        dry_run=dry_run or bool(faults),
    )
    for (row, _), own in zip(boats, added.faults, strict=True):
        faults += _of_row(row, own)
    return TableImport(rows, faults, added.candidates)


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
