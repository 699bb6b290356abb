"""Renderers of reports. They run last: a client that has the current report costs no rendering."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from apps.http.renderers import HtmlPage, Made
from apps.reports.content import ReportContent
from apps.reports.page import page_of
from apps.reports.paper import paper_of


@dataclass(frozen=True)
class Printing:
    """A report and its paper size."""

    report: ReportContent
    paper: str


class ReportPage(HtmlPage):
    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> Any:
        made = page_of(data.report, data.paper) if isinstance(data, Printing) else data
        return super().render(made, accepted_media_type, renderer_context)


class ReportPaper(Made):
    media_type = "application/pdf"
    format = "pdf"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> Any:
        made = paper_of(data.report, data.paper) if isinstance(data, Printing) else data
        return super().render(made, accepted_media_type, renderer_context)
