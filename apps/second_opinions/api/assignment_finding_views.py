"""Views of an assignment's findings and pictures."""

import uuid

from django.http import HttpRequest, HttpResponseBase, JsonResponse
from django.views.decorators.http import require_safe
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.common.errors import Gone, NotVisible
from apps.http.pages import PageQuery, page, page_of
from apps.http.problems import CONTENT_TYPE, problem
from apps.http.views import View, no_content, person_of, versioned_response
from apps.second_opinions import assigned, looking
from apps.second_opinions.access import assignment_opened, authority_of, still_taken
from apps.second_opinions.api.assignment_serializers import (
    TakenPhotoSerializer,
    TakenSubmissionSerializer,
)
from apps.second_opinions.links import link_open
from apps.second_opinions.models import Assignment
from apps.viewings.api.file_views import file_answer
from apps.viewings.api.media_serializers import PhotoBody
from apps.viewings.api.media_views import FORM, UploadView, link_variant
from apps.viewings.api.submission_serializers import (
    SubmissionBody,
    SubmissionFields,
    content_of,
)
from apps.viewings.models import Submission
from apps.viewings.submitting import require_own_draft


class AssignmentSubmissionsView(View):
    needs_again = {"POST": still_taken}
    scopes = {"GET": "second_opinions:read", "POST": "second_opinions:write"}
    query_serializer = PageQuery

    @extend_schema(
        operation_id="assignment_submissions_list", responses=page_of(TakenSubmissionSerializer)
    )
    def get(self, request: Request, assignment_id: uuid.UUID) -> Response:
        """Your own submissions from your visit, including drafts."""
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

        It is like a member's, but has no vote and cannot be a professional's report. Once submitted
        it counts in the group's results and stays with the group.
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
        """One of your own submissions."""
        return submission_response(self.person, assignment_id, submission_id)

    @extend_schema(
        operation_id="assignment_submissions_replace",
        request=SubmissionFields,
        responses=TakenSubmissionSerializer,
    )
    def put(self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID) -> Response:
        """Replace a draft with its findings; `state` submitted submits it."""
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
        """Delete a draft. A submitted submission stays."""
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


class AssignmentPhotosView(UploadView):
    needs_again = {"POST": still_taken}
    scopes = {"GET": "second_opinions:read", "POST": "second_opinions:write"}
    query_serializer = PageQuery
    largest_bytes = "PHOTO_LARGEST_BYTES"

    @extend_schema(operation_id="assignment_photos_list", responses=page_of(TakenPhotoSerializer))
    def get(self, request: Request, assignment_id: uuid.UUID, submission_id: uuid.UUID) -> Response:
        """The pictures of a submission of yours."""
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
        """Add a picture to your own submission, or to one finding in it, for the group to keep.

        The rest is as for a member's pictures, but its links work only while you may see the boat.
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
        """One of your own pictures: its state, and links that work for a limited time."""
        return photo_response(request, assignment_opened(self.person, assignment_id), photo_id)

    @extend_schema(operation_id="assignment_photos_remove", request=None, responses={204: None})
    def delete(self, request: Request, assignment_id: uuid.UUID, photo_id: uuid.UUID) -> Response:
        """Remove your own picture while its submission is open."""
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
    """A picture behind an assignment's link: works only during the access, and is never cached."""
    try:
        photo = link_open(photo_id=photo_id, form=form, token=request.GET.get("token", ""))
    except NotVisible:
        return _refusal(404, "not_found", "There is no such thing, or not for you.")
    except Gone as gone:
        return _refusal(410, gone.code, gone.detail)
    return file_answer(request, photo, form, kept="private, no-store")


def _refusal(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, code, detail), status=status, content_type=CONTENT_TYPE)
