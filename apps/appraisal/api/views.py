"""The board, its reasons, and the results of each candidate: translation only."""

import uuid

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.appraisal.api.board_serializers import BoardSerializer, OrderSerializer
from apps.appraisal.api.candidate_serializers import (
    ConsensusAnswerSerializer,
    ReasonsAnswerSerializer,
)
from apps.appraisal.api.rollup_serializers import RollupAnswerSerializer
from apps.appraisal.api.shapes import WaitQuery
from apps.appraisal.board import candidate_selectors as candidates
from apps.appraisal.board import documents, selectors
from apps.boats.selectors import list_for
from apps.boats.yards.selectors import time_zone_of
from apps.http.derived import as_file, derived
from apps.http.renderers import CsvText, HtmlPage, PngPicture, SvgPicture, file_or_json
from apps.http.views import View


class DerivedView(View):
    """Read stored results. `?wait=` waits for fresh ones, outside any transaction."""

    scopes = {"GET": "results:read"}
    query_serializer = WaitQuery


class BoardView(DerivedView):
    @extend_schema(operation_id="board_read", responses=BoardSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The list's order: what each boat would cost, how sure that is, and which to strike off.

        You do not see what other buyers think of the boats until you have said what you think, or
        the organiser has opened the list's opinions. Your board is computed from the opinions that
        you may see. All readers who may see the same opinions get the same board.
        """
        return derived(selectors.board_read(self.person, list_id, self.query["wait"]))


class OrderView(DerivedView):
    @extend_schema(operation_id="order_read", responses=OrderSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The buyers' own orders, and the group's order by three methods of counting."""
        return derived(selectors.order_read(self.person, list_id, self.query["wait"]))


class RollupView(DerivedView):
    @extend_schema(operation_id="rollup_read", responses=RollupAnswerSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What she would cost all-in, where it comes from, and what keeping her costs."""
        return derived(candidates.rollup_read(self.person, candidate_id, self.query["wait"]))


class ConsensusView(DerivedView):
    @extend_schema(operation_id="consensus_read", responses=ConsensusAnswerSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What all findings on her together say, checkpoint by checkpoint."""
        return derived(candidates.consensus_read(self.person, candidate_id, self.query["wait"]))


class ReasonsView(DerivedView):
    @extend_schema(operation_id="reasons_read", responses=ReasonsAnswerSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Why she is in her place, in full: as numbers and codes, and in sentences."""
        return derived(candidates.reasons_read(self.person, candidate_id, self.query["wait"]))


# --- The board in other forms --------------------------------------------------------------------


class BoardCsvView(DerivedView):
    renderer_classes = file_or_json(CsvText)

    @extend_schema(
        operation_id="board_csv", responses={(200, CsvText.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The board as a table (RFC 4180), one row for each boat."""
        board = selectors.board_read(self.person, list_id, self.query["wait"])
        return as_file(documents.board_csv(board), "text/csv; charset=utf-8", "board.csv")


class BoardSvgView(DerivedView):
    renderer_classes = file_or_json(SvgPicture)

    @extend_schema(
        operation_id="board_svg", responses={(200, SvgPicture.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The all-in ranges against the budget, as a picture."""
        board = selectors.board_read(self.person, list_id, self.query["wait"])
        return as_file(documents.board_picture(board, "svg"), SvgPicture.media_type, "board.svg")


class BoardPngView(DerivedView):
    renderer_classes = file_or_json(PngPicture)

    @extend_schema(
        operation_id="board_png", responses={(200, PngPicture.media_type): OpenApiTypes.BINARY}
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The all-in ranges against the budget, as a picture."""
        board = selectors.board_read(self.person, list_id, self.query["wait"])
        return as_file(documents.board_picture(board, "png"), PngPicture.media_type, "board.png")


class BoardPageView(DerivedView):
    renderer_classes = file_or_json(HtmlPage)

    @extend_schema(
        operation_id="board_page", responses={(200, HtmlPage.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The board as one page to print or send, with picture and reasons."""
        board = selectors.board_read(self.person, list_id, self.query["wait"])
        zone = time_zone_of(list_for(self.person, list_id))
        return as_file(documents.board_page(board, zone), "text/html; charset=utf-8", "board.html")
