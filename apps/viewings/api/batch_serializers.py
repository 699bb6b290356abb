"""Serializers of batches of submissions."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.boats.api.fields import StrictBody
from apps.http.views import ClientIdMixin
from apps.viewings.api.serializers import ConditionsSerializer
from apps.viewings.api.submission_serializers import SubmissionFields, content_of
from apps.viewings.batches import BatchItem, VisitDraft
from apps.viewings.models import Viewing

MOST_SUBMISSIONS = 200


class OwnId(ClientIdMixin, StrictBody):
    id = serializers.UUIDField(help_text="a UUIDv7 made by the client, the same in every repeat")


class NewViewingBody(OwnId):
    """A visit that was made but that the service does not know yet."""

    candidate = serializers.UUIDField()
    kind = serializers.ChoiceField(Viewing.Kind.choices, default=Viewing.Kind.VISIT)
    starts_at = serializers.DateTimeField()
    conditions = ConditionsSerializer(required=False)
    people = serializers.ListField(
        child=serializers.UUIDField(), default=list, max_length=100, help_text="ids of members"
    )
    note = serializers.CharField(max_length=4000, default="", allow_blank=True)


class BatchSubmissionBody(OwnId, SubmissionFields):
    """One submission, from a visit that the service knows or with the visit in it."""

    viewing = serializers.UUIDField(required=False, allow_null=True)
    new_viewing = NewViewingBody(required=False, allow_null=True)

    def validate(self, body: dict[str, Any]) -> dict[str, Any]:
        if bool(body.get("viewing")) == bool(body.get("new_viewing")):
            raise serializers.ValidationError(
                {"viewing": [serializers.ErrorDetail("Send this or `new_viewing`.", "one_of_both")]}
            )
        return body


class SentBody(StrictBody):
    sent_at = serializers.DateTimeField(
        required=False, help_text="your clock's time when you send this; used to correct its error"
    )


class SubmissionBatchBody(SentBody):
    """Submissions made without signal, in the order in which they depend on each other."""

    submissions = BatchSubmissionBody(  # type: ignore[call-arg]  # lengths are for the list
        many=True, min_length=1, max_length=MOST_SUBMISSIONS
    )


class Envelope(SentBody):
    """The same with unread submissions, because each is read or refused separately."""

    submissions = serializers.ListField(
        child=serializers.JSONField(), min_length=1, max_length=MOST_SUBMISSIONS
    )


class NoteSerializer(serializers.Serializer[Any]):
    code = serializers.CharField(help_text="clock_corrected or other_viewing")
    detail = serializers.CharField()


@extend_schema_field({"oneOf": [{"$ref": "#/components/schemas/Problem"}, {"type": "null"}]})
class ProblemField(serializers.ReadOnlyField):
    """The reason of the refusal, as a single request would get it."""


class BatchResultSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField(allow_null=True, help_text="as sent; null if it could not be read")
    status = serializers.IntegerField(
        help_text="201 stored, 200 stored before; otherwise why it was refused"
    )
    viewing = serializers.UUIDField(allow_null=True)
    version = serializers.IntegerField(allow_null=True)
    notes = NoteSerializer(many=True, help_text="values that were stored differently than sent")
    problem = ProblemField()


class SubmissionBatchSerializer(serializers.Serializer[Any]):
    received_at = serializers.DateTimeField()
    clock_ahead_s = serializers.IntegerField(
        help_text="seconds by which your clock is ahead; 0 if it is about right or unknown"
    )
    results = BatchResultSerializer(many=True, help_text="one for each submission, in their order")


def item_of(body: dict[str, Any]) -> BatchItem:
    """One checked submission of a batch."""
    content = {k: v for k, v in body.items() if k not in ("id", "viewing", "new_viewing")}
    visit = body.get("new_viewing")
    return BatchItem(
        id=body["id"],
        content=content_of(content),
        viewing=body.get("viewing"),
        visit=VisitDraft(**visit) if visit else None,
    )


def id_of(sent: Any) -> uuid.UUID | None:
    """The id of a submission whose content is unchecked; None if it has none."""
    try:
        return uuid.UUID(sent["id"])
    except (TypeError, KeyError, ValueError, AttributeError):
        return None
