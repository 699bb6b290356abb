"""Boats as people paste them: lines from adverts or a spreadsheet of their own, made into a table.

What is understood is written as the table that an import takes (`tables`); what is wrong in it is
for the import to say. Nothing is guessed that a person would not read in the line as well.
"""

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import StringIO

from apps.boats.particulars import FIRST_YEAR
from apps.boats.tables import HEADER, SEPARATORS

# Words of a header for the columns of an import.
COLUMN_WORDS: Mapping[str, str] = {
    "name": "name",
    "boat": "name",
    "price": "asking.amount",
    "asking": "asking.amount",
    "asking price": "asking.amount",
    "currency": "asking.currency",
    "length": "loa_m",
    "loa": "loa_m",
    "year": "build_year",
    "built": "build_year",
    "place": "place.yard",
    "where": "place.yard",
    "yard": "place.yard",
    "draught": "draught_m",
    "beam": "beam_m",
    "note": "note",
    "notes": "note",
    "link": "links",
}
CODES = {"€": "EUR", "£": "GBP"}
DOLLARS = ("USD", "CAD", "AUD", "NZD")

SPACES = "'\u2019\u00a0\u202f "  # what stands between thousands, beside points and commas
NUMBER = rf"\d[\d.,{SPACES}]*"
SIGN = r"[€£$]|[A-Z]{3}"
MONEY = re.compile(rf"(?P<before>{SIGN})?\s*(?P<number>{NUMBER})\s*(?P<after>{SIGN})?")
UNIT = "m|metres?|meters?|ft|feet|foot|'|\u2032"
LENGTH = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>{UNIT})", re.IGNORECASE)
LATEST_YEAR = 2200  # what is more can only be a price
YEAR = re.compile(r"(?:built|year|of)?\s*(?P<year>\d{4})", re.IGNORECASE)
THOUSANDS = re.compile(r"[.,](?=\d{3}(?:\D|$))")
LINK = re.compile(r"https?://\S+")


@dataclass(frozen=True)
class Pasted:
    """A table, and the pasted line behind each of its rows."""

    csv: str
    lines: Mapping[int, int]


Row = dict[str, str]
MORE = ""  # where cells stand that have no column: the import refuses their row


def understood(text: str, currency: str) -> Pasted:
    """The pasted text as a table. currency: of amounts that name none."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    try:
        header = columns_in(first)
        rows = list(of_table(text, header, currency) if header else of_lines(text, currency))
    except csv.Error:
        return Pasted(text, {})  # broken quotes, an endless cell: the import says where
    columns = dict.fromkeys(["name", *(name for _, cells in rows for name in cells)])
    columns.pop(MORE, None)
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    for _, cells in rows:
        more = [cells[MORE]] if MORE in cells else []
        writer.writerow([*(cells.get(name, "") for name in columns), *more])
    return Pasted(out.getvalue(), {at: n for at, (n, _) in enumerate(rows, start=HEADER + 1)})


# --- With a header -------------------------------------------------------------------------------


def columns_in(line: str) -> list[str] | None:
    """The columns, if it is a header: it must name the column of names. Raises `csv.Error`."""
    cells = next(csv.reader([line], delimiter=separator_of(line)), [])
    columns = [COLUMN_WORDS.get(cell.strip().lower(), cell.strip()) for cell in cells]
    return columns if "name" in columns else None


def separator_of(line: str) -> str:
    return max(SEPARATORS, key=line.count)


def of_table(text: str, columns: list[str], currency: str) -> Iterator[tuple[int, Row]]:
    """Each row with its first line. Raises `csv.Error`."""
    body = text.lstrip("\ufeff\r\n")
    skipped = text[: len(text) - len(body)].count("\n")
    reader = csv.reader(
        StringIO(body, newline=""), delimiter=separator_of(body.partition("\n")[0]), strict=True
    )
    next(reader)
    line = reader.line_num
    for cells in reader:
        if any(cell.strip() for cell in cells):
            yield skipped + line + 1, of_header(columns, cells, currency)
        line = reader.line_num


def of_header(columns: list[str], cells: list[str], currency: str) -> Row:
    """Prices and lengths as people write them; every other cell as it is."""
    row: Row = {}
    for name, cell in zip(columns, (one.strip() for one in cells), strict=False):
        if not cell:
            continue
        if name == "asking.amount" and (money := money_in(cell, currency)):
            row = {**money, **row}
        elif name == "loa_m" and (length := length_in(cell)):
            row |= length
        else:
            row[name] = cell
    if more := "".join(cells[len(columns) :]).strip():
        row[MORE] = more
    return row


# --- One boat a line -----------------------------------------------------------------------------


def of_lines(text: str, currency: str) -> Iterator[tuple[int, Row]]:
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            yield number, of_line(line, currency)


def of_line(line: str, currency: str) -> Row:
    """'Heron, 31,000 EUR, 9.8 m, 1984, Cold Harbour': the name first, the rest in any order."""
    name, *parts = parts_of(line)
    cells, left = {"name": name}, []
    for part in parts:
        found = read(part, currency)
        if found and not cells.keys() & found.keys():
            cells |= found
        else:
            left.append(part)
    if left:
        cells["place.yard"] = left[0]
    if left[1:]:
        cells["note"] = ", ".join(left[1:])
    return cells


def parts_of(line: str) -> list[str]:
    """Between tabs, semicolons or bars; else between commas that stand in no number."""
    if re.search(r"[\t;|]", line):
        parts = re.split(r"[\t;|]", line)
    else:
        parts = re.split(r",(?!\d)|,(?=\d{4}\b)", line)
    return [part.strip() for part in parts if part.strip()] or [""]


def read(part: str, currency: str) -> Row:
    if LINK.fullmatch(part):
        return {"links": part}
    year = YEAR.fullmatch(part)
    if year and FIRST_YEAR <= int(year["year"]) < LATEST_YEAR:
        return {"build_year": year["year"]}
    return length_in(part) or money_in(part, currency)


def money_in(text: str, currency: str) -> Row:
    found = MONEY.fullmatch(text)
    if not found:
        return {}
    sign = found["before"] or found["after"] or ""
    if sign == "$":
        sign = currency if currency in DOLLARS else "USD"
    return {
        "asking.amount": plain(found["number"]),
        "asking.currency": CODES.get(sign, sign) or currency,
    }


def length_in(text: str) -> Row:
    found = LENGTH.fullmatch(text)
    if not found:
        return {}
    metric = found["unit"].lower().startswith("m")
    number = re.sub(r"\s", "", found["number"]).replace(",", ".")
    return {"loa_m" if metric else "loa_ft": number}


def plain(number: str) -> str:
    """'31,000', '31.000', '31 000' and "31'000" are 31000; '31,50' is 31.50."""
    joined = re.sub(f"[{SPACES}]", "", number)
    return THOUSANDS.sub("", joined).replace(",", ".")
