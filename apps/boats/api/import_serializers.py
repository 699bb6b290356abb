"""Boats from a table: each row becomes the body that would add that boat to the list."""

import re
from typing import Any

from rest_framework import serializers

from apps.boats import particulars
from apps.boats.api.candidate_serializers import CandidateBody, PlaceBody
from apps.boats.api.fields import FigureField, StrictBody
from apps.boats.quantities import IMPERIAL
from apps.boats.tables import TableRow
from apps.http.fields import AnyField

LARGEST_TABLE = 1_000_000  # characters: far more than the largest table of boats needs

NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def _columns() -> dict[str, AnyField]:
    """The field behind each column; parts of a field are named with dots: `place.yard`."""
    fields = CandidateBody().fields
    place = fields["place"]
    assert isinstance(place, PlaceBody)
    parts: dict[str, dict[str, AnyField]] = {
        # People do not type ids into a table.
        "place": {n: f for n, f in place.fields.items() if n != "yard_id"},
        "asking": {name: serializers.CharField() for name in ("amount", "currency")},
        "sources": {
            name: serializers.CharField()
            for name in (*particulars.PARTICULARS, *(one.name for one in IMPERIAL.values()))
        },
    }
    columns: dict[str, AnyField] = {}
    for name, field in fields.items():
        inner = parts.get(name)
        columns |= (
            {f"{name}.{part}": one for part, one in inner.items()} if inner else {name: field}
        )
    return columns


COLUMNS = _columns()
NEEDED = ("name",)


def body_of(row: TableRow) -> dict[str, Any]:
    """The row as the body of one boat; the checks of the body report its faults."""
    body: dict[str, Any] = {}
    for column, cell in row.cells.items():
        whole, _, part = column.partition(".")
        if part:
            body.setdefault(whole, {})[part] = _value(column, cell)
        else:
            body[whole] = _value(column, cell)
    return body


def _value(column: str, cell: str) -> Any:
    if column == "links":
        return cell.split()
    if isinstance(COLUMNS[column], FigureField) and NUMBER.fullmatch(cell):
        return float(cell)
    return cell


def column_of(pointer: str) -> str:
    """The column to correct for a fault in the body: `asking.amount` for `/asking/amount`."""
    tokens = pointer.strip("/").split("/")
    dotted = ".".join(tokens)
    return dotted if dotted in COLUMNS else tokens[0]


class CandidateImportBody(StrictBody):
    """A table of boats."""

    csv = serializers.CharField(
        max_length=LARGEST_TABLE,
        trim_whitespace=False,
        help_text="comma-separated values with a header. Columns are the fields of a candidate, in "
        "SI or imperial; parts with dots: `asking.amount`, `place.yard`, `sources.loa_m`; several "
        "`links` separated by spaces. Semicolons or tabs may separate the columns.",
    )
    dry_run = serializers.BooleanField(
        default=True, help_text="only report the faults of each row; store nothing"
    )


class CellFaultSerializer(serializers.Serializer[Any]):
    column = serializers.CharField(help_text="empty: the row as a whole")
    code = serializers.CharField()
    detail = serializers.CharField()


class ImportedRowSerializer(serializers.Serializer[Any]):
    row = serializers.IntegerField(help_text="the header is row 1")
    name = serializers.CharField()
    candidate = serializers.UUIDField(allow_null=True, help_text="null: not stored")
    faults = CellFaultSerializer(many=True)


class CandidateImportSerializer(serializers.Serializer[Any]):
    """The result of each row."""

    dry_run = serializers.BooleanField()
    fine = serializers.BooleanField(help_text="whether no row has a fault")
    rows = ImportedRowSerializer(many=True)
