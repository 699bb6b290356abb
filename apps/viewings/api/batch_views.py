"""Views of batches of submissions."""

import uuid
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import APIException
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.errors import Invalid, ServiceError, pointing_into
from apps.groups.rules import Action, require
from apps.http.problems import flatten, handle_exception
from apps.http.views import View
from apps.viewings import batches
from apps.viewings.api.batch_serializers import (
    BatchSubmissionBody,
    Envelope,
    SubmissionBatchBody,
    SubmissionBatchSerializer,
    id_of,
    item_of,
)
from apps.viewings.clocks import ahead
from apps.viewings.models import Submission


class SubmissionBatchesView(View):
    # Each submission is stored separately, and a repeat is recognised by its id.
    atomic_writes = False
    scopes = {"POST": "findings:write"}

    @extend_schema(
        operation_id="submission_batches_create",
        request=SubmissionBatchBody,
        responses={207: SubmissionBatchSerializer},
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Post up to 200 submissions made without signal, each accepted separately.

        `results` has one entry for each, in their order: stored, or refused with the problem and
        pointers into the whole body. You can send a batch again, whole or in part, as often as you
        like: a submission with the same id and content is stored once; with other content it is
        refused (409).

        A visit in it (`new_viewing`) is stored as made, once for all submissions that name its id.
        If you recorded a visit to the same boat within three hours of it, for example on another
        phone, that visit is used and its unknown conditions are filled in. If you looked at one
        checkpoint twice on one visit, the later look counts, by `observed_at`.
        """
        received_at = timezone.now()
        require(self.person, Action.SUBMIT, group_id)
        body = self.read_body(Envelope)
        clock_ahead = ahead(body.get("sent_at"), received_at)
        batch = batches.batch_begin(
            group_id=group_id,
            by=self.person,
            ids=[id for sent in body["submissions"] if (id := id_of(sent))],
            clock_ahead=clock_ahead,
        )
        answer = {
            "received_at": received_at,
            "clock_ahead_s": clock_ahead.total_seconds(),
            "results": list(results_of(batch, body["submissions"])),
        }
        return Response(SubmissionBatchSerializer(answer).data, status=207)


def results_of(
    batch: batches.SubmissionBatch, submissions: Sequence[Any]
) -> Iterator[Mapping[str, Any]]:
    for index, sent in enumerate(submissions):
        try:
            with pointing_into(f"/submissions/{index}"):
                item = read_item(sent)
                submission, is_new = batches.submission_take(batch=batch, item=item)
        except (ServiceError, APIException) as refused:
            yield refusal(sent, refused)
        else:
            yield accepted(item, submission, is_new)


def read_item(sent: Any) -> batches.BatchItem:
    if not isinstance(sent, dict):
        raise Invalid.at("", "not_an_object", "Send a JSON object.")
    body = BatchSubmissionBody(data=sent)
    if not body.is_valid():
        faults = flatten(serializers.ValidationError(body.errors).get_full_details())
        raise Invalid(list(faults))
    return item_of(body.validated_data)


def accepted(item: batches.BatchItem, submission: Submission, is_new: bool) -> dict[str, Any]:
    return {
        "id": submission.pk,
        "status": 201 if is_new else 200,
        "viewing": submission.viewing_id,
        "version": submission.version,
        "notes": list(notes_of(item, submission)),
        "problem": None,
    }


def notes_of(item: batches.BatchItem, submission: Submission) -> Iterator[dict[str, str]]:
    if submission.observed_stated is not None:
        yield {
            "code": "clock_corrected",
            "detail": f"Your clock showed {submission.observed_stated:%Y-%m-%d %H:%M:%S} (UTC), "
            f"which is impossible; {submission.observed_at:%Y-%m-%d %H:%M:%S} is used.",
        }
    if item.visit is not None and item.visit.id != submission.viewing_id:
        yield {
            "code": "other_viewing",
            "detail": "You had recorded a visit to this boat at that time: that visit is used.",
        }


def refusal(sent: Any, refused: Exception) -> dict[str, Any]:
    answer = handle_exception(refused, {})
    assert answer is not None  # both kinds have an answer
    return {
        "id": id_of(sent),
        "status": answer.status_code,
        "viewing": None,
        "version": None,
        "notes": [],
        "problem": answer.data,
    }
