"""Surveys and their reports: translation only."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_survey
from apps.groups.rules import Action, require
from apps.http.derived import derived
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, versioned_response
from apps.surveys import reporting, selectors, services
from apps.surveys.api.serializers import (
    SurveyBody,
    SurveyChange,
    SurveyComparisonSerializer,
    SurveyReportBody,
    SurveyReportSerializer,
    SurveySerializer,
    report_of,
)
from apps.surveys.comparing import ABOVE_THE_SCREENING, comparison_of


class SurveysView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = PageQuery

    @extend_schema(operation_id="surveys_list", responses=page_of(SurveySerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The surveys of this boat, those called off included."""
        surveys = selectors.surveys_of(self.person, candidate_id)
        return page(request, surveys, self.query, SurveySerializer)

    @extend_schema(
        operation_id="surveys_commission", request=SurveyBody, responses={201: SurveySerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Write down what was agreed with a surveyor, a rigger or another professional.

        Whoever buys chooses and pays the surveyor. The fee paid belongs in the group's ledger.
        """
        survey = services.survey_commission(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(SurveyBody),
        )
        return versioned_response(survey, SurveySerializer(survey).data, status=201)


class SurveyView(View):
    scopes = {"GET": "lists:read", "PATCH": "lists:write"}
    needs = {"PATCH": in_group_of_survey(Action.ADD)}

    @extend_schema(operation_id="surveys_read", responses=SurveySerializer)
    def get(self, request: Request, survey_id: uuid.UUID) -> Response:
        """One survey."""
        survey = selectors.survey_for(self.person, survey_id)
        variant = str(len(survey.reports.all()))
        return versioned_response(survey, SurveySerializer(survey).data, variant=variant)

    @extend_schema(operation_id="surveys_change", request=SurveyChange, responses=SurveySerializer)
    def patch(self, request: Request, survey_id: uuid.UUID) -> Response:
        """Change what was agreed, or call it off."""
        survey = selectors.survey_for(self.person, survey_id)
        services.survey_change(
            survey=survey,
            by=self.person,
            expected_version=self.expected_version(survey),
            **self.read_body(SurveyChange, partial=True),
        )
        changed = selectors.survey_for(self.person, survey_id)
        return versioned_response(changed, SurveySerializer(changed).data)


def enterer(person: Person, named: Mapping[str, Any]) -> None:
    """Organisers and buyers; once there is a report, only who entered it."""
    survey = selectors.survey_for(person, named["survey_id"])
    require(person, Action.CLEAR, survey.candidate.list.group_id)
    reporting.require_enterer(survey, person)


class SurveyReportsView(View):
    scopes = {"GET": "findings:read", "POST": "findings:write"}
    needs = {"POST": enterer}
    query_serializer = PageQuery

    @extend_schema(operation_id="survey_reports_list", responses=page_of(SurveyReportSerializer))
    def get(self, request: Request, survey_id: uuid.UUID) -> Response:
        """The reports of a survey with their findings; the last one counts."""
        survey = selectors.survey_for(self.person, survey_id)
        return page(request, selectors.reports_of(survey), self.query, SurveyReportSerializer)

    @extend_schema(
        operation_id="survey_reports_enter",
        request=SurveyReportBody,
        responses={201: SurveyReportSerializer},
    )
    def post(self, request: Request, survey_id: uuid.UUID) -> Response:
        """Enter a professional's report, all its findings in one request.

        The findings count as that professional's: they stand above members' looks, close or confirm
        doubts, and raters are judged anew by them. A cost range with a remedy counts as an estimate
        of that remedy. A further report corrects the last one, which stays on record.
        """
        survey = selectors.survey_for(self.person, survey_id)
        body = self.read_body(SurveyReportBody)
        id = body.pop("id", None)
        report = reporting.survey_report_enter(
            survey=survey, by=self.person, content=report_of(body), id=id
        )
        return versioned_response(report, SurveyReportSerializer(report).data, status=201)


class SurveyComparisonView(View):
    scopes = {"GET": "findings:read"}

    @extend_schema(operation_id="survey_comparisons_read", responses=SurveyComparisonSerializer)
    def get(self, request: Request, survey_id: uuid.UUID) -> Response:
        """The report beside what members saw before: found, missed, overcalled.

        404 until there is a report.
        """
        report = selectors.report_that_counts(selectors.survey_for(self.person, survey_id))
        found = comparison_of(report)
        answer = {
            "report": report.pk,
            "caution": ABOVE_THE_SCREENING,
            "checkpoints": found.checkpoints,
            "people": found.people,
        }
        return derived(SurveyComparisonSerializer(answer).data)
