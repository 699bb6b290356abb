"""Views of a club's statistics: as data, as pictures and as a page."""

import uuid

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.yards.selectors import time_zone_of_club
from apps.common.wording import NOT_A_SURVEY
from apps.http.derived import as_file, derived
from apps.http.renderers import HtmlPage, SvgPicture, file_or_json
from apps.http.views import View
from apps.outcomes import documents, selectors
from apps.outcomes.api.serializers import OutcomesAnswerSerializer, OutcomesQuery, PictureQuery

EXAMPLE = OpenApiExample(
    "Of all boats",
    value={
        "club": {"id": "01890a5d-ac96-774b-bcce-b302099a8057", "name": "Harbour"},
        "computed_at": "2025-05-01T06:00:00Z",
        "method": "1",
        "caution": f"{NOT_A_SURVEY} ...",
        "boats_shown": {"by": "", "value": "", "words": "all boats"},
        "areas": [
            {
                "area": "deck",
                "title": "Deck",
                "checkpoints": 1,
                "looks": 18,
                "groups": 6,
                "share": 0.222,
                "expected": 0.094,
            }
        ],
        "checkpoints": [
            {
                "checkpoint": "deck-cracks",
                "title": "Cracks in the deck",
                "area": "deck",
                "judged_by": "surveyor",
                "found": {
                    "figure": 0.222,
                    "low": 0.121,
                    "high": 0.366,
                    "groups": 6,
                    "boats": 18,
                    "disclosed_at": "2025-05-01T06:00:00Z",
                    "expected": 0.094,
                },
                "caught": None,
                "cleared": None,
                "difference": None,
                "divided": [],
            }
        ],
        "remedies": [],
        "sentences": [],
        "warnings": [],
    },
    response_only=True,
)


class OutcomesView(View):
    scopes = {"GET": "results:read"}
    query_serializer = OutcomesQuery

    @extend_schema(
        operation_id="outcomes_read", responses=OutcomesAnswerSerializer, examples=[EXAMPLE]
    )
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """What surveys later found on boats of sharing groups, and what quick looks had reported.

        For all boats and by kind of boat, or for the kind asked for. Every figure, and anything
        that follows from several by adding and subtracting, rests on at least three groups besides
        your own; others are left out. Groups with a person in common count as one.
        """
        return derived(selectors.outcomes_read(self.person, club_id, **self.query))


class OutcomesPageView(View):
    scopes = {"GET": "results:read"}
    query_serializer = OutcomesQuery
    renderer_classes = file_or_json(HtmlPage)

    @extend_schema(
        operation_id="outcomes_page", responses={(200, HtmlPage.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """The statistics as a page to read or print, with pictures."""
        club_outcomes = selectors.outcomes_read(self.person, club_id, **self.query)
        page = documents.outcomes_page(club_outcomes, time_zone_of_club(self.person, club_id))
        return as_file(page, "text/html; charset=utf-8", "club_outcomes.html")


class OutcomesSvgView(View):
    scopes = {"GET": "results:read"}
    query_serializer = PictureQuery
    renderer_classes = file_or_json(SvgPicture)

    @extend_schema(
        operation_id="outcomes_svg", responses={(200, SvgPicture.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, club_id: uuid.UUID) -> Response:
        """One of the statistics' pictures."""
        picture = self.query.pop("picture")
        club_outcomes = selectors.outcomes_read(self.person, club_id, **self.query)
        drawn = documents.outcomes_picture(club_outcomes, picture)
        return as_file(drawn, SvgPicture.media_type, f"club_outcomes-{picture}.svg")
