"""The board, its reasons, and the results of each candidate: translation only."""

import uuid
from collections.abc import Callable, Mapping
from typing import ClassVar, Literal

from django.http import HttpResponse
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
from apps.appraisal.jobs import Of
from apps.appraisal.reading import Reading
from apps.boats.selectors import list_for
from apps.boats.yards.selectors import time_zone_of
from apps.http.derived import as_file, unless_held
from apps.http.renderers import CsvText, HtmlPage, PngPicture, SvgPicture, file_or_json
from apps.http.views import View


class DerivedView(View):
    """Read stored results. `?wait=` waits for fresh ones, outside any transaction."""

    scopes = {"GET": "results:read"}
    query_serializer = WaitQuery
    of: ClassVar[Of] = Of.BOARD

    def of_list(self, list_id: uuid.UUID) -> Reading:
        return Reading.of_list(self.person, list_id, self.of, self.query["wait"])

    def of_candidate(self, candidate_id: uuid.UUID) -> Reading:
        return Reading.of_candidate(self.person, candidate_id, self.of, self.query["wait"])


class BoardView(DerivedView):
    @extend_schema(operation_id="board_read", responses=BoardSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> HttpResponse:
        """The list's order: what each boat would cost, how sure that is, and which to strike off.

        You do not see what other buyers think of the boats until you have said what you think, or
        the organiser has opened the list's opinions. Your board is computed from the opinions that
        you may see. All readers who may see the same opinions get the same board.
        """
        reading = self.of_list(list_id)
        etag = reading.etag("board")
        return unless_held(request, etag, lambda: selectors.board_answer(reading))


class OrderView(DerivedView):
    @extend_schema(operation_id="order_read", responses=OrderSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> HttpResponse:
        """The buyers' own orders, and the group's order by three methods of counting."""
        reading = self.of_list(list_id)
        return unless_held(request, reading.etag("order"), lambda: selectors.order_of(reading))


class CandidateResultView(DerivedView):
    """One stored result of one candidate."""

    def result(
        self,
        request: Request,
        candidate_id: uuid.UUID,
        name: str,
        read: Callable[[Reading, uuid.UUID], Mapping[str, object]],
    ) -> HttpResponse:
        reading = self.of_candidate(candidate_id)
        etag = reading.etag(name, candidate=candidate_id)
        return unless_held(request, etag, lambda: read(reading, candidate_id))


class RollupView(CandidateResultView):
    @extend_schema(operation_id="rollup_read", responses=RollupAnswerSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> HttpResponse:
        """What she would cost all-in, where it comes from, and what keeping her costs."""
        return self.result(request, candidate_id, "rollup", candidates.rollup_of)


class ConsensusView(CandidateResultView):
    @extend_schema(operation_id="consensus_read", responses=ConsensusAnswerSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> HttpResponse:
        """What all findings on her together say, checkpoint by checkpoint."""
        return self.result(request, candidate_id, "consensus", candidates.consensus_of)


class ReasonsView(CandidateResultView):
    @extend_schema(operation_id="reasons_read", responses=ReasonsAnswerSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> HttpResponse:
        """Why she is in her place, in full: as numbers and codes, and in sentences."""
        return self.result(request, candidate_id, "reasons", candidates.reasons_of)


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


class BoardPictureView(DerivedView):
    def picture(self, list_id: uuid.UUID, form: Literal["svg", "png"], media_type: str) -> Response:
        board = selectors.board_read(self.person, list_id, self.query["wait"])
        return as_file(documents.board_picture(board, form), media_type, f"board.{form}")


class BoardSvgView(BoardPictureView):
    renderer_classes = file_or_json(SvgPicture)

    @extend_schema(
        operation_id="board_svg", responses={(200, SvgPicture.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The all-in ranges against the budget, as a picture."""
        return self.picture(list_id, "svg", SvgPicture.media_type)


class BoardPngView(BoardPictureView):
    renderer_classes = file_or_json(PngPicture)

    @extend_schema(
        operation_id="board_png", responses={(200, PngPicture.media_type): OpenApiTypes.BINARY}
    )
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """The all-in ranges against the budget, as a picture."""
        return self.picture(list_id, "png", PngPicture.media_type)


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
