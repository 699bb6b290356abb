"""A report as a tagged PDF (PDF/UA-1), the same bytes for the same report.

The typesetter gets all text as data beside its template, never inside it, so that no text of a user
is read as markup. It uses only fonts that come with pinned packages.
"""

import json
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from django.core.serializers.json import DjangoJSONEncoder

from apps.common.processes.keeping import kept_by_content
from apps.reports.content import Paragraph, Picture, ReportContent, Section, texts
from apps.reports.lettering import LACKED, everywhere, font_folder, for_paper, lacking, settable

if TYPE_CHECKING:
    import typst

TEMPLATE = Path(__file__).parent / "typst" / "report.typ"
SIZES = {"a4": "a4", "letter": "us-letter"}
# A fixed moment for a report whose figures were never computed.
NEVER = datetime(2000, 1, 1, tzinfo=UTC)
LETTERS_LACK = Paragraph(
    f"{LACKED} stands for a character that the fonts of this print do not have. The same report as "
    "a page of HTML shows it."
)


def paper_of(report: ReportContent, paper: str) -> bytes:
    if any(lacking(settable(text)) for text in texts(report)):
        report = replace(report, blocks=(*report.blocks, LETTERS_LACK))
    data = report.as_data()
    pictures: list[str] = []
    _part_pictures(data, report, pictures)
    inputs = {
        "report": json.dumps(everywhere(for_paper, data), cls=DjangoJSONEncoder),
        "pictures": json.dumps(pictures),
        "paper": SIZES[paper],
    }
    return _printed(inputs, (report.made_at or NEVER).replace(microsecond=0))


@kept_by_content
def _printed(inputs: dict[str, str], made_at: datetime) -> bytes:
    import typst  # only where something is printed

    printed: bytes = typst.compile(
        TEMPLATE,
        root=TEMPLATE.parent,
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs=inputs,
        pdf_standards=["ua-1"],
        timestamp=made_at,
    )
    return printed


@cache
def fonts() -> "typst.Fonts":
    """The typesetter's own fonts, and those that come with the plotting library."""
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[font_folder()])


def _part_pictures(data: dict[str, Any], of: ReportContent | Section, pictures: list[str]) -> None:
    """Move the pictures out of the tree and leave their numbers in it."""
    from apps.reports.charts import svg_of

    for message, block in zip(data["blocks"], of.blocks, strict=True):
        if isinstance(block, Picture):
            message["picture"] = len(pictures)
            del message["drawn_from"]
            pictures.append(svg_of(block, outlines=True))
    for inner, section in zip(data["sections"], of.sections, strict=True):
        _part_pictures(inner, section, pictures)
