"""The owners' agreement, as a page and as a PDF: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.reports.agreement_sheet import agreement_sheet
from apps.reports.api.views import PAGE, PAPER, PaperView, ReportPageView


class AgreementPrintView(ReportPageView):
    scopes = {"GET": "ownership:read"}

    @extend_schema(operation_id="agreement_page", responses=PAGE)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """What the owners agree, to print: the wordings that hold, and who agreed to them when.

        No legal advice: it is for a lawyer to read.
        """
        return self.printed(agreement_sheet(self.person, group_id), "agreement")


class AgreementPaperView(PaperView):
    scopes = {"GET": "ownership:read"}

    @extend_schema(operation_id="agreement_paper", responses=PAPER)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The owners' agreement as a tagged PDF (PDF/UA-1), with the same content as the page."""
        return self.printed(agreement_sheet(self.person, group_id), "agreement")
