"""The first season of a boat: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.appraisal.api.shapes import WaitQuery
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate
from apps.groups.rules import Action
from apps.http.derived import derived
from apps.http.views import View, no_content, versioned_response
from apps.ownership.api.season_serializers import (
    SeasonBody,
    SeasonSerializer,
    SeasonSettingsSerializer,
    WorkDecisionBody,
    WorkDecisionSerializer,
)
from apps.ownership.season import selectors, services
from apps.ownership.season.answer import season_answer


class SeasonView(View):
    scopes = {"GET": "results:read"}
    query_serializer = WaitQuery

    @extend_schema(operation_id="season_read", responses=SeasonSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The work on her by month, safety first, with its cost by buyer, and what she costs to
        keep.

        Worked out from her results when it is read. Local codes and licensed practice come first.
        """
        read = selectors.season_of_boat(self.person, candidate_id, self.query["wait"])
        return derived(SeasonSerializer(season_answer(read)).data)


class SeasonSettingsView(View):
    put_makes = True
    scopes = {"GET": "ownership:read", "PUT": "ownership:write"}
    needs = {"PUT": in_group_of_candidate(Action.ADD)}

    @extend_schema(operation_id="season_settings_read", responses=SeasonSettingsSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What bounds the season's work; 404 until somebody set it."""
        settings = selectors.settings_of(candidate_for(self.person, candidate_id))
        return versioned_response(settings, SeasonSettingsSerializer(settings).data)

    @extend_schema(
        operation_id="season_settings_set",
        request=SeasonBody,
        responses={200: SeasonSettingsSerializer, 201: SeasonSettingsSerializer},
    )
    def put(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Set the months, your own hours, when the yard lifts, when you sail, and the money.

        The present estimates are kept with it: bills are compared with them.
        """
        candidate = candidate_for(self.person, candidate_id)
        known = selectors.settings_if_any(candidate)
        settings = services.season_set(
            candidate=candidate,
            by=self.person,
            expected_version=self.expected_of(known),
            **self.read_body(SeasonBody),
        )
        status = 201 if known is None else 200
        return versioned_response(settings, SeasonSettingsSerializer(settings).data, status=status)


class WorkDecisionView(View):
    put_makes = True
    scopes = {
        "GET": "ownership:read",
        "PUT": "ownership:write",
        "DELETE": "ownership:write",
    }
    needs = {
        "PUT": in_group_of_candidate(Action.ADD),
        "DELETE": in_group_of_candidate(Action.ADD),
    }

    @extend_schema(operation_id="work_decisions_read", responses=WorkDecisionSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID, code: str) -> Response:
        """What the group decided about one remedy; 404 where it did not."""
        decision = selectors.decision_of(self.person, candidate_id, code)
        return versioned_response(decision, WorkDecisionSerializer(decision).data)

    @extend_schema(
        operation_id="work_decisions_set",
        request=WorkDecisionBody,
        responses={200: WorkDecisionSerializer, 201: WorkDecisionSerializer},
    )
    def put(self, request: Request, candidate_id: uuid.UUID, code: str) -> Response:
        """Decide that a remedy is done this season, left, or done already."""
        candidate = candidate_for(self.person, candidate_id)
        selectors.remedy_known(candidate, code)
        known = selectors.decision_if_any(candidate, code)
        decision = services.work_decide(
            candidate=candidate,
            remedy=code,
            by=self.person,
            expected_version=self.expected_of(known),
            **self.read_body(WorkDecisionBody),
        )
        status = 201 if known is None else 200
        return versioned_response(decision, WorkDecisionSerializer(decision).data, status=status)

    @extend_schema(operation_id="work_decisions_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, candidate_id: uuid.UUID, code: str) -> Response:
        """Let the chance say again whether it is planned."""
        decision = selectors.decision_of(self.person, candidate_id, code)
        services.decision_withdraw(
            decision=decision, by=self.person, expected_version=self.expected_version(decision)
        )
        return no_content()
