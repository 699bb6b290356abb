"""A request that was taken on, and what is done with it: the taker's side. Translation only."""

import uuid
from dataclasses import replace

from django.http import HttpRequest, HttpResponseBase, JsonResponse
from django.views.decorators.http import require_safe
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.common.errors import Gone, NotVisible, Stale
from apps.http.pages import PageQuery, page, page_of
from apps.http.problems import CONTENT_TYPE, problem
from apps.http.views import View, no_content, person_of, versioned_response
from apps.second_opinions import assigned, assigning, looking
from apps.second_opinions.access import assignment_opened, authority_of, still_taken
from apps.second_opinions.api.assignment_serializers import (
    AnswerBody,
    AssignmentSerializer,
    HandBackBody,
    TakenBoatSerializer,
    TakenPhotoSerializer,
    TakenSubmissionSerializer,
    VisitBody,
    VisitSerializer,
)
from apps.second_opinions.links import link_open
from apps.second_opinions.models import Assignment
from apps.viewings.api.checklist_serializers import (
    ChecklistSerializer,
    ConditionsQuery,
    checklist_serialized,
)
from apps.viewings.api.file_views import file_answer
from apps.viewings.api.media_serializers import PhotoBody
from apps.viewings.api.media_views import FORM, UploadView, link_variant
from apps.viewings.api.submission_serializers import (
    SubmissionBody,
    SubmissionFields,
    content_of,
)
from apps.viewings.checklists import candidate_checklist
from apps.viewings.models import Submission
from apps.viewings.submitting import require_own_draft


class AssignmentsView(View):
    scopes = {"GET": "second_opinions:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="assignments_list", responses=page_of(AssignmentSerializer))
    def get(self, request: Request) -> Response:
        """The requests that you took on. Of those that are over it says nothing but when."""
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
        """One request that you took on: the question while it runs, and how it ended."""
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
        """The boat: particulars, asking price and place. Nothing that anybody found or thinks."""
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
        a first look, by what matters most; what the seller is asked, the group asks itself.
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

    @extend_schema(operation_id="assignment_visit_read", responses=VisitSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """When you look at her; 404 until you said so."""
        return visit_response(assignment_opened(self.person, assignment_id))

    @extend_schema(
        operation_id="assignment_visit_set",
        request=VisitBody,
        responses={200: VisitSerializer, 201: VisitSerializer},
    )
    def put(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Say when you look at her and how she lies; the group sees it among its visits.

        Needed before findings can be posted. Handed back, a visit still to come is called off.
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
        assignment.viewing, VisitSerializer(assignment.viewing).data, status=status
    )


# --- What was found ------------------------------------------------------------------------------


class AssignmentSubmissionsView(View):
    needs_again = {"POST": still_taken}
    scopes = {"GET": "second_opinions:read", "POST": "second_opinions:write"}
    query_serializer = PageQuery

    @extend_schema(
        operation_id="assignment_submissions_list", responses=page_of(TakenSubmissionSerializer)
    )
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """What you found on your visit, drafts included. Nobody else's."""
        assignment = assignment_opened(self.person, assignment_id)
        return page(
            request, assigned.submissions_for(assignment), self.query, TakenSubmissionSerializer
        )

    @extend_schema(
        operation_id="assignment_submissions_create",
        request=SubmissionBody,
        responses={201: TakenSubmissionSerializer, 200: TakenSubmissionSerializer},
    )
    def post(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Post a whole submission with its findings: a draft, or submitted at once.

        As a member's, but without a call, and never from a professional's report. Submitted, it
        counts in the group's results and stays with the group.
        """
        body = self.read_body(SubmissionBody)
        submission, is_new = looking.submission_create(
            assignment_id=assignment_id,
            by=self.person,
            id=body.pop("id", None),
            content=content_of(body),
        )
        return submission_response(
            self.person, assignment_id, submission.pk, status=201 if is_new else 200
        )


class AssignmentSubmissionView(View):
    scopes = {
        "GET": "second_opinions:read",
        "PUT": "second_opinions:write",
        "DELETE": "second_opinions:write",
    }

    @extend_schema(operation_id="assignment_submissions_read", responses=TakenSubmissionSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID) -> Response:
        """One of your own."""
        return submission_response(self.person, assignment_id, submission_id)

    @extend_schema(
        operation_id="assignment_submissions_replace",
        request=SubmissionFields,
        responses=TakenSubmissionSerializer,
    )
    def put(self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID) -> Response:
        """Replace a draft, findings and all; with `state` submitted it is submitted."""
        submission = own_draft(self.person, assignment_id, submission_id)
        looking.submission_replace(
            assignment_id=assignment_id,
            submission=submission,
            by=self.person,
            expected_version=self.expected_version(submission),
            content=content_of(self.read_body(SubmissionFields)),
        )
        return submission_response(self.person, assignment_id, submission_id)

    @extend_schema(
        operation_id="assignment_submissions_discard", request=None, responses={204: None}
    )
    def delete(
        self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID
    ) -> Response:
        """Throw a draft away. What was submitted stays."""
        submission = own_draft(self.person, assignment_id, submission_id)
        looking.submission_discard(
            assignment_id=assignment_id,
            submission=submission,
            by=self.person,
            expected_version=self.expected_version(submission),
        )
        return no_content()


def own_draft(person: Person, assignment_id: uuid.UUID, submission_id: uuid.UUID) -> Submission:
    assignment = assignment_opened(person, assignment_id)
    submission = assigned.submission_for(assignment, submission_id)
    require_own_draft(submission, person, authority_of(assignment))
    return submission


def submission_response(
    person: Person, assignment_id: uuid.UUID, submission_id: uuid.UUID, *, status: int = 200
) -> Response:
    submission = assigned.submission_for(assignment_opened(person, assignment_id), submission_id)
    answer = TakenSubmissionSerializer(submission).data
    return versioned_response(submission, answer, status=status, variant=str(len(answer["photos"])))


# --- Pictures ------------------------------------------------------------------------------------


class AssignmentPhotosView(UploadView):
    needs_again = {"POST": still_taken}
    scopes = {"GET": "second_opinions:read", "POST": "second_opinions:write"}
    query_serializer = PageQuery
    largest_bytes = "PHOTO_LARGEST_BYTES"

    @extend_schema(operation_id="assignment_photos_list", responses=page_of(TakenPhotoSerializer))
    def get(self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID) -> Response:
        """Your own pictures that go with a submission of yours."""
        assignment = assignment_opened(self.person, assignment_id)
        submission = assigned.submission_for(assignment, submission_id)
        photos = assigned.photos_for(assignment).filter(submission=submission)
        return page(request, photos, self.query, TakenPhotoSerializer, assignment=assignment)

    @extend_schema(
        operation_id="assignment_photos_create",
        request={FORM: PhotoBody},
        responses={201: TakenPhotoSerializer, 200: TakenPhotoSerializer},
    )
    def post(
        self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID
    ) -> Response:
        """Add a picture to your own submission, or to one finding in it; it is the group's then.

        The rest is as for a member's pictures, but a link to one opens only as long as the boat is
        open to you.
        """
        assignment = assignment_opened(self.person, assignment_id)
        photo, is_new = looking.photo_add(
            assignment_id=assignment_id,
            submission=assigned.submission_for(assignment, submission_id),
            by=self.person,
            **self.read_body(PhotoBody),
        )
        return photo_response(request, assignment, photo.pk, status=201 if is_new else 200)


class AssignmentPhotoView(View):
    scopes = {"GET": "second_opinions:read", "DELETE": "second_opinions:write"}

    @extend_schema(operation_id="assignment_photos_read", responses=TakenPhotoSerializer)
    def get(self, request: Request, assignment_id: uuid.UUID, photo_id: uuid.UUID) -> Response:
        """One of your own pictures: its state, and where it can be opened for a while."""
        return photo_response(request, assignment_opened(self.person, assignment_id), photo_id)

    @extend_schema(operation_id="assignment_photos_remove", request=None, responses={204: None})
    def delete(self, request: Request, assignment_id: uuid.UUID, photo_id: uuid.UUID) -> Response:
        """Take your own picture back while its submission is open."""
        photo = assigned.photo_for(assignment_opened(self.person, assignment_id), photo_id)
        looking.photo_remove(
            assignment_id=assignment_id,
            photo=photo,
            by=self.person,
            expected_version=self.expected_version(photo),
        )
        return no_content()


def photo_response(
    request: Request, assignment: Assignment, photo_id: uuid.UUID, *, status: int = 200
) -> Response:
    photo = assigned.photo_for(assignment, photo_id)
    answer = TakenPhotoSerializer(
        photo, context={"request": request, "assignment": assignment}
    ).data
    return versioned_response(
        photo, answer, status=status, variant=link_variant(photo, person_of(request))
    )


@require_safe
def assignment_media(request: HttpRequest, photo_id: uuid.UUID, form: str) -> HttpResponseBase:
    """A picture behind a link of a take: opened only while the boat is open, and never kept."""
    try:
        photo = link_open(photo_id=photo_id, form=form, token=request.GET.get("token", ""))
    except NotVisible:
        return _refusal(404, "not_found", "There is no such thing, or not for you.")
    except Gone as gone:
        return _refusal(410, gone.code, gone.detail)
    return file_answer(request, photo, form, kept="private, no-store")


def _refusal(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, code, detail), status=status, content_type=CONTENT_TYPE)


# --- Done with it --------------------------------------------------------------------------------


class AssignmentAnswersView(View):
    scopes = {"POST": "second_opinions:write"}

    @extend_schema(
        operation_id="assignments_answer", request=AnswerBody, responses={201: AssignmentSerializer}
    )
    def post(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Done: answer in words, by what you submitted, or both. The boat is closed to you then."""
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
        """Not done, and why: another adviser is asked. Your drafts go, the boat is closed."""
        assignment = assigned.assignment_for(self.person, assignment_id)
        assigning.second_opinion_hand_back(
            assignment=assignment, by=self.person, **self.read_body(HandBackBody)
        )
        return assignment_response(self.person, assignment_id, status=201)
