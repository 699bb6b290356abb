"""A report as one page of HTML for print, which loads nothing from anywhere."""

import base64

from django.template.loader import render_to_string

from apps.reports.content import Block, Picture, ReportContent, Section, Table, WritingRoom

SIZES = {"a4": "A4", "letter": "letter"}


def page_of(report: ReportContent, paper: str) -> str:
    return render_to_string(
        "reports/report.html",
        {
            "report": report,
            "size": SIZES[paper],
            "blocks": _blocks(report),
            "sections": _sections(report),
        },
    )


def _sections(of: ReportContent | Section) -> list[dict[str, object]]:
    return [
        {
            "title": section.title,
            "new_page": section.new_page,
            "blocks": _blocks(section),
            "sections": _sections(section),
        }
        for section in of.sections
    ]


def _blocks(of: ReportContent | Section) -> list[dict[str, object]]:
    return [{"kind": block.kind, "is": block, **_beside(block)} for block in of.blocks]


def _beside(block: Block) -> dict[str, object]:
    """Values that the template needs in addition to the block."""
    match block:
        case Table():
            return {"parts": _parts(block), "widths": _widths(block), "short": _is_short(block)}
        case Picture():
            return {"address": _address(block)}
        case WritingRoom():
            return {"rules": range(block.lines)}
    return {}


def _parts(table: Table) -> list[dict[str, object]]:
    """Rows of cells with their column, and whether they name their row."""
    return [
        {
            "title": part.title,
            "rows": [
                {
                    "cells": [
                        (n == table.names, column, cell)
                        for n, (column, cell) in enumerate(zip(table.columns, row, strict=True))
                    ],
                    "note": note,
                }
                for row, note in part.noted
            ],
        }
        for part in table.parts
    ]


TICK_PERCENT = 7.5
FEW_ROWS = 12  # a table up to this length stays on one page


def _widths(table: Table) -> list[float]:
    """Widths in percent for a table to write in; else columns are as wide as their content."""
    if not any(column.holds == "writing" for column in table.columns):
        return []
    ticks = sum(column.holds == "ticks" for column in table.columns)
    shared = sum(column.share for column in table.columns if column.holds != "ticks")
    room = 100 - TICK_PERCENT * ticks
    return [
        TICK_PERCENT if column.holds == "ticks" else round(room * column.share / shared, 1)
        for column in table.columns
    ]


def _is_short(table: Table) -> bool:
    return sum(len(part.rows) for part in table.parts) <= FEW_ROWS


def _address(picture: Picture) -> str:
    """The picture itself as a data address: people can save the page and send it."""
    from apps.reports.charts import svg_of

    svg = svg_of(picture, outlines=False)
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"
