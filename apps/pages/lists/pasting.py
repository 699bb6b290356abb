"""Boats from pasted lines: what is understood of them is shown before anything is sent."""

import uuid
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from apps.boats.api.import_serializers import LARGEST_TABLE
from apps.boats.api.importing import TableImport, table_import
from apps.boats.list_models import CandidateList
from apps.boats.pasted import Pasted, understood
from apps.boats.selectors import list_for
from apps.boats.tables import CellFault
from apps.pages.base import PageView
from apps.pages.boats.particulars import with_unit
from apps.pages.lists.boards import may

TITLES = {
    "name": "Name",
    "asking.amount": "Price",
    "asking.currency": "Currency",
    "place.yard": "Where she lies",
    "loa_ft": "Length overall (ft)",
    "links": "Address of the advert",
    "note": "Notes",
}


@dataclass(frozen=True)
class PastedLine:
    """One pasted line: its cells in the order of the columns, and what is wrong with it."""

    number: int
    cells: list[tuple[str, str]]
    faults: list[str]


@dataclass(frozen=True)
class Preview:
    """What would be sent. Nothing is stored yet."""

    csv: str
    titles: list[str]
    lines: list[PastedLine]
    faults: list[str]  # of no line with a boat

    @property
    def fine(self) -> bool:
        return bool(self.lines) and not self.faults and not any(one.faults for one in self.lines)


class PasteView(PageView):
    """Sent to itself, the form shows what is understood; from there it goes to the API."""

    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        return self.paste_page(list_for(self.person, list_id))

    def post(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        text = request.POST.get("text", "")[:LARGEST_TABLE]
        return self.paste_page(list_for(self.person, list_id), text)

    def paste_page(self, candidate_list: CandidateList, text: str = "") -> HttpResponse:
        allowed = may(self.person, candidate_list.group_id)
        preview = None
        if text.strip() and allowed.get("add"):
            pasted = understood(text, candidate_list.currency)
            imported = table_import(
                candidate_list=candidate_list, by=self.person, text=pasted.csv, dry_run=True
            )
            preview = preview_of(pasted, imported)
        return self.page(
            "pages/paste.html", list=candidate_list, may=allowed, text=text, preview=preview
        )


def preview_of(pasted: Pasted, imported: TableImport) -> Preview:
    columns = list(dict.fromkeys(name for row in imported.rows for name in row.cells))
    titles = [TITLES.get(name) or with_unit(name) for name in columns]
    rows = {row.number for row in imported.rows}
    lines = [
        PastedLine(
            pasted.lines.get(row.number, row.number),
            list(zip(titles, (row.cells.get(name, "") for name in columns), strict=True)),
            [words_of(fault) for fault in imported.faults if fault.row == row.number],
        )
        for row in imported.rows
    ]
    others = [
        f"Line {pasted.lines.get(fault.row, fault.row)}: {words_of(fault)}"
        for fault in imported.faults
        if fault.row not in rows
    ]
    return Preview(pasted.csv, titles, lines, others)


def words_of(fault: CellFault) -> str:
    title = fault.column and (TITLES.get(fault.column) or with_unit(fault.column))
    return f"{title}: {fault.detail}" if title else fault.detail
