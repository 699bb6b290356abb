"""Reports to print, as a page and as a PDF: translation only."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from apps.appraisal.api.shapes import WaitQuery
from apps.http.renderers import file_or_json
from apps.http.views import View
from apps.reports.api.renderers import Printing, ReportPage, ReportPaper
from apps.reports.content import ReportContent
from apps.reports.day_sheet import trip_sheet, viewing_sheet
from apps.reports.decision_brief import decision_brief

PAPERS = [("a4", "A4, 210 by 297 mm"), ("letter", "US letter, 8.5 by 11 in")]
PAGE = {(200, ReportPage.media_type): OpenApiTypes.STR}
PAPER = {(200, ReportPaper.media_type): OpenApiTypes.BINARY}


class PaperQuery(serializers.Serializer[Any]):
    paper = serializers.ChoiceField(PAPERS, default="a4", help_text="paper size")


class BriefQuery(PaperQuery, WaitQuery):
    pass


class ReportView(View):
    scopes = {"GET": "results:read"}
    query_serializer = PaperQuery

    def printed(self, report: ReportContent, name: str) -> Response:
        """The report in the form of this view's renderer, with an ETag of its whole content."""
        form, paper = self.renderer_classes[0], self.query["paper"]
        charset = f"; charset={form.charset}" if form.charset else ""
        response = Response(Printing(report, paper), content_type=f"{form.media_type}{charset}")
        response["Content-Disposition"] = f'inline; filename="{name}.{form.format}"'
        response["ETag"] = f'"{report.digest}-{paper}-{form.format}"'
        return response


class ReportPageView(ReportView):
    renderer_classes = file_or_json(ReportPage)


class PaperView(ReportView):
    renderer_classes = file_or_json(ReportPaper)


# --- For a meeting -------------------------------------------------------------------------------


class DecisionBriefPageView(ReportPageView):
    query_serializer = BriefQuery

    @extend_schema(operation_id="decision_brief_page", responses=PAGE)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The decision brief of a list: one page to print for a meeting.

        The order with reasons and ranges, disagreements, open doubts with the professional who must
        judge them, facts that would change the order, and what to look at next. It leaves out
        others'
        opinions that are hidden from you.
        """
        brief = decision_brief(self.person, list_id, self.query["wait"])
        return self.printed(brief, "decision-brief")


class DecisionBriefPaperView(PaperView):
    query_serializer = BriefQuery

    @extend_schema(operation_id="decision_brief_paper", responses=PAPER)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The decision brief as a tagged PDF (PDF/UA-1), with the same content as the page."""
        brief = decision_brief(self.person, list_id, self.query["wait"])
        return self.printed(brief, "decision-brief")


# --- For a day out -------------------------------------------------------------------------------


class ViewingSheetPageView(ReportPageView):
    @extend_schema(operation_id="viewing_sheet_page", responses=PAGE)
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """The day sheet of a visit: one page to print and take along.

        Place and time, the cautions, what to look at first, doubts to settle, questions to ask, and
        the checks that are possible in the known conditions, with boxes to tick.
        """
        return self.printed(viewing_sheet(self.person, viewing_id), "day-sheet")


class ViewingSheetPaperView(PaperView):
    @extend_schema(operation_id="viewing_sheet_paper", responses=PAPER)
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """The day sheet of a visit as a tagged PDF (PDF/UA-1), with the page's content."""
        return self.printed(viewing_sheet(self.person, viewing_id), "day-sheet")


class TripSheetPageView(ReportPageView):
    @extend_schema(operation_id="trip_sheet_page", responses=PAGE)
    def get(self, request: Request, trip_id: uuid.UUID) -> Response:
        """The day sheet of a trip: its boats in the order of the plan, a sheet for each.

        For a boat of another group it has the particulars, the place and the checklist.
        """
        return self.printed(trip_sheet(self.person, trip_id), "day-sheet")


class TripSheetPaperView(PaperView):
    @extend_schema(operation_id="trip_sheet_paper", responses=PAPER)
    def get(self, request: Request, trip_id: uuid.UUID) -> Response:
        """The day sheet of a trip as a tagged PDF (PDF/UA-1), with the same content as the page."""
        return self.printed(trip_sheet(self.person, trip_id), "day-sheet")
