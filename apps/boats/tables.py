"""Boats as a table of text: comma-separated values (RFC 4180), one boat a row, named columns."""

import csv
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from io import StringIO

MOST_ROWS = 500
HEADER = 1
# Spreadsheets use the delimiter of their locale; the first line shows which.
SEPARATORS = (",", ";", "\t")


@dataclass(frozen=True)
class CellFault:
    """One fault in a table. The header is row 1; column "" is the whole row."""

    row: int
    column: str
    code: str
    detail: str


@dataclass(frozen=True)
class TableRow:
    """The cells of one boat by column, empty ones left out."""

    number: int
    cells: Mapping[str, str]


class TableInvalid(Exception):
    """The table cannot be read row by row."""

    def __init__(self, faults: list[CellFault]) -> None:
        self.faults = faults


def read_rows(text: str, columns: Collection[str], needed: Collection[str]) -> list[TableRow]:
    """The rows below the header; empty ones are skipped. Raises `TableInvalid`.

    The header may have `columns`, in any order, and must have `needed`.
    """
    text = text.removeprefix("\ufeff")  # the byte order mark that some spreadsheets write
    header, *records = _records(text)
    header = [name.strip() for name in header]
    faults = list(_header_faults(header, columns, needed))
    rows = []
    for number, record in enumerate(records, start=HEADER + 1):
        if not any(cell.strip() for cell in record):
            continue
        if len(record) > len(header):
            faults.append(
                CellFault(number, "", "too_many_cells", "There are more cells than columns.")
            )
        cells = {name: cell.strip() for name, cell in zip(header, record, strict=False)}
        rows.append(TableRow(number, {name: cell for name, cell in cells.items() if cell}))
    if not rows:
        faults.append(CellFault(HEADER, "", "no_rows", "There is no boat below the header."))
    if len(rows) > MOST_ROWS:
        faults.append(
            CellFault(HEADER, "", "too_many_rows", f"Send at most {MOST_ROWS} boats at once.")
        )
    if faults:
        raise TableInvalid(faults)
    return rows


def _records(text: str) -> list[list[str]]:
    """Every record, the header first. Raises `TableInvalid` if quoting is broken."""
    first_line = text.partition("\n")[0]
    separator = max(SEPARATORS, key=first_line.count)
    reader = csv.reader(StringIO(text, newline=""), delimiter=separator, strict=True)
    records: list[list[str]] = []
    try:
        records.extend(reader)
    except csv.Error as error:
        fault = CellFault(len(records) + 1, "", "unreadable", f"This is no CSV: {error}.")
        raise TableInvalid([fault]) from error
    return records or [[]]


def _header_faults(
    header: list[str], columns: Collection[str], needed: Collection[str]
) -> Iterator[CellFault]:
    for index, name in enumerate(header):
        if name in header[:index]:
            yield CellFault(HEADER, name, "named_twice", f"The column {name!r} occurs twice.")
        elif name not in columns:
            yield CellFault(HEADER, name, "unknown_column", f"There is no column {name!r}.")
    for name in needed:
        if name not in header:
            yield CellFault(HEADER, name, "missing_column", f"The column {name!r} is missing.")
