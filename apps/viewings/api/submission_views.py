"""Views of submissions."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.common.digests import digest_of
from apps.groups.needs import in_group_of_viewing
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.viewings import selectors, submitting
from apps.viewings.api.submission_serializers import (
    SubmissionBody,
    SubmissionFields,
    SubmissionQuery,
    SubmissionSerializer,
    content_of,
)
from apps.viewings.models import Submission


class ViewingSubmissionsView(View):
    scopes = {"GET": "findings:read", "POST": "findings:write"}
    needs = {"POST": in_group_of_viewing(Action.SUBMIT)}
    query_serializer = PageQuery

    @extend_schema(operation_id="viewing_submissions_list", responses=page_of(SubmissionSerializer))
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """The submitted submissions of this visit, and your own drafts."""
        viewing = selectors.viewing_for(self.person, viewing_id)
        return page(
            request,
            selectors.submissions_of_viewing(self.person, viewing),
            self.query,
            SubmissionSerializer,
            reader=self.person,
            votes_open=selectors.votes_open_to(self.person, viewing.candidate),
        )

    @extend_schema(
        operation_id="submissions_create",
        request=SubmissionBody,
        responses={201: SubmissionSerializer, 200: SubmissionSerializer},
    )
    def post(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """Post a whole submission with its findings in one request: a draft, or submitted at once.

        A repeat under the same client-made id answers 200 with what is stored, or 409 if the
        content differs. One answer lists all faults, each with its pointer.
        """
        body = self.read_body(SubmissionBody)
        submission, is_new = submitting.submission_create(
            viewing=selectors.viewing_looked_on(self.person, viewing_id),
            by=self.person,
            id=body.pop("id", None),
            content=content_of(body),
        )
        if not is_new:
            return submission_response(self.person, submission.pk)
        created = selectors.as_read(submission)
        return submission_answer(self.person, created, votes_open=True, status=201)


class CandidateSubmissionsView(View):
    scopes = {"GET": "findings:read"}
    query_serializer = SubmissionQuery

    @extend_schema(
        operation_id="candidate_submissions_list", responses=page_of(SubmissionSerializer)
    )
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The submitted submissions of all visits to a candidate, and your own drafts."""
        candidate = candidate_for(self.person, candidate_id)
        return page(
            request,
            selectors.submissions_of_candidate(
                self.person, candidate, live_only=self.query["live"]
            ),
            self.query,
            SubmissionSerializer,
            reader=self.person,
            votes_open=selectors.votes_open_to(self.person, candidate),
        )


class SubmissionView(View):
    scopes = {"GET": "findings:read", "PUT": "findings:write", "DELETE": "findings:write"}

    @extend_schema(operation_id="submissions_read", responses=SubmissionSerializer)
    def get(self, request: Request, submission_id: uuid.UUID) -> Response:
        """One submission with its findings."""
        return submission_response(self.person, submission_id)

    @extend_schema(
        operation_id="submissions_replace",
        request=SubmissionFields,
        responses=SubmissionSerializer,
    )
    def put(self, request: Request, submission_id: uuid.UUID) -> Response:
        """Replace your own draft with its findings; `state` submitted submits it."""
        submission = own_draft(self.person, submission_id)
        submitting.submission_replace(
            submission=submission,
            by=self.person,
            expected_version=self.expected_version(submission),
            content=content_of(self.read_body(SubmissionFields)),
        )
        return submission_response(self.person, submission_id)

    @extend_schema(operation_id="submissions_discard", request=None, responses={204: None})
    def delete(self, request: Request, submission_id: uuid.UUID) -> Response:
        """Delete your own draft. A submitted one stays."""
        submission = own_draft(self.person, submission_id)
        submitting.submission_discard(
            submission=submission,
            by=self.person,
            expected_version=self.expected_version(submission),
        )
        return no_content()


def own_draft(reader: Person, submission_id: uuid.UUID) -> Submission:
    """The reader's draft. Refuses a submitted one before `If-Match`: it never changes."""
    submission = selectors.submission_for(reader, submission_id)
    submitting.require_own_draft(submission, reader)
    return submission


def submission_response(reader: Person, submission_id: uuid.UUID) -> Response:
    submission = selectors.submission_for(reader, submission_id)
    votes_open = selectors.votes_open_to(reader, submission.viewing.candidate)
    return submission_answer(reader, submission, votes_open=votes_open)


def submission_answer(
    reader: Person, submission: Submission, *, votes_open: bool, status: int = 200
) -> Response:
    """votes_open: matters only for others' submissions; everybody sees their own vote."""
    answer = SubmissionSerializer(
        submission, context={"reader": reader, "votes_open": votes_open}
    ).data
    return versioned_response(
        submission, answer, status=status, variant=variant_of(submission, answer)
    )


def variant_of(submission: Submission, answer: Mapping[str, Any]) -> str:
    """The ETag's variant: one version differs by whether its vote is shown and by its media."""
    media = [*submission.photos.all(), *submission.sounds.all()]
    media_beside = [(str(one.pk), one.version) for one in media]
    hides = answer["vote_hidden"]
    return digest_of([hides, media_beside]) if media or hides else ""
