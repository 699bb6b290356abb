"""Views of assignments, for the people who took requests."""

import uuid
from dataclasses import replace

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.common.errors import NotVisible, Stale
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, versioned_response
from apps.second_opinions import assigned, assigning, looking
from apps.second_opinions.access import assignment_opened
from apps.second_opinions.api.assignment_serializers import (
    AnswerBody,
    AssignmentSerializer,
    AssignmentVisitSerializer,
    HandBackBody,
    TakenBoatSerializer,
    VisitBody,
)
from apps.second_opinions.models import Assignment
from apps.viewings.api.checklist_serializers import (
    ChecklistSerializer,
    ConditionsQuery,
    checklist_serialized,
)
from apps.viewings.checklists import candidate_checklist


class AssignmentsView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="assignments_list", responses=page_of(AssignmentSerializer))
    def get(self, request: Request) -> Response:
        """The requests that you took. Ended ones have only their dates."""
        return page(
            request,
            assigned.assignments_of(self.person),
            self.query,
            AssignmentSerializer,
            live=assigned.live_ids(self.person),
        )


class AssignmentView(View):
    scopes = {"GET": "second_opinions:read"}

    @extend_schema(operation_id="assignments_read", responses=AssignmentSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """One request that you took: the question while it is live, and how it ended."""
        return assignment_response(self.person, assignment_id)


def assignment_response(person: Person, assignment_id: uuid.UUID, *, status: int = 200) -> Response:
    assignment, live = assigned.assignment_for(person, assignment_id), assigned.live_ids(person)
    answer = AssignmentSerializer(assignment, context={"live": live}).data
    variant = f"{assignment.request.version}" if answer["asked"] else "over"
    return versioned_response(assignment, answer, status=status, variant=variant)


class AssignmentCandidateView(View):
    scopes = {"GET": "second_opinions:read"}

    @extend_schema(operation_id="assignment_candidate_read", responses=TakenBoatSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """The boat: particulars, asking price and place, without anybody's findings or opinions."""
        candidate = assignment_opened(self.person, assignment_id).request.candidate
        yard = candidate.at_yard
        answer = TakenBoatSerializer(candidate).data
        return versioned_response(candidate, answer, variant=str(yard.version) if yard else "")


class AssignmentChecklistView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = ConditionsQuery

    @extend_schema(operation_id="assignment_checklist_read", responses=ChecklistSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """What to look at on this boat, in the conditions of your visit or those given here.

        The cautions come first. The words are those of the group's catalogue. With `minutes` it is
        a first look, by priority. Questions for the seller are left to the group.
        """
        assignment = assignment_opened(self.person, assignment_id)
        own = assignment.viewing.conditions if assignment.viewing else {}
        conditions = {**own, **self.query}
        minutes = conditions.pop("minutes", None)
        found = replace(candidate_checklist(assignment.request.candidate, conditions), to_ask=())
        if minutes is not None:
            found = found.first_look(minutes, {})
        return Response(
            checklist_serialized(
                found, assignment.request.candidate_id, assignment.viewing_id, conditions
            )
        )


class AssignmentVisitView(View):
    put_makes = True
    scopes = {"GET": "second_opinions:read", "PUT": "second_opinions:write"}

    @extend_schema(operation_id="assignment_visit_read", responses=AssignmentVisitSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Your visit; 404 until you have planned it."""
        return visit_response(assignment_opened(self.person, assignment_id))

    @extend_schema(
        operation_id="assignment_visit_set",
        request=VisitBody,
        responses={200: AssignmentVisitSerializer, 201: AssignmentVisitSerializer},
    )
    def put(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Set the time of your visit and how she lies; the group sees it among its visits.

        Findings can be posted only after this. Handing the request back calls a future visit off.
        """
        assignment = assignment_opened(self.person, assignment_id)
        is_new = assignment.viewing is None
        if is_new and "If-Match" in request.headers:
            raise Stale
        expected = None if assignment.viewing is None else self.expected_version(assignment.viewing)
        body = self.read_body(VisitBody)
        looking.visit_set(
            assignment_id=assignment_id,
            by=self.person,
            expected_version=expected,
            starts_at=body["starts_at"],
            conditions=body.get("conditions", {}),
        )
        return visit_response(
            assignment_opened(self.person, assignment_id), status=201 if is_new else 200
        )


def visit_response(assignment: Assignment, *, status: int = 200) -> Response:
    if assignment.viewing is None:
        raise NotVisible
    return versioned_response(
        assignment.viewing, AssignmentVisitSerializer(assignment.viewing).data, status=status
    )


# --- What was found ------------------------------------------------------------------------------


# --- Pictures ------------------------------------------------------------------------------------


# --- Done with it --------------------------------------------------------------------------------


class AssignmentAnswersView(View):
    scopes = {"POST": "second_opinions:write"}

    @extend_schema(
        operation_id="assignments_answer", request=AnswerBody, responses={201: AssignmentSerializer}
    )
    def post(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Answer in words, by what you submitted, or both. This ends your access to the boat."""
        assignment = assigned.assignment_for(self.person, assignment_id)
        assigning.second_opinion_answer(
            assignment=assignment, by=self.person, **self.read_body(AnswerBody)
        )
        return assignment_response(self.person, assignment_id, status=201)


class AssignmentHandBacksView(View):
    scopes = {"POST": "second_opinions:write"}

    @extend_schema(
        operation_id="assignments_hand_back",
        request=HandBackBody,
        responses={201: AssignmentSerializer},
    )
    def post(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Hand the request back, with a reason, for another adviser. Your drafts and access end."""
        assignment = assigned.assignment_for(self.person, assignment_id)
        assigning.second_opinion_hand_back(
            assignment=assignment, by=self.person, **self.read_body(HandBackBody)
        )
        return assignment_response(self.person, assignment_id, status=201)
