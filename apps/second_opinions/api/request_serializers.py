"""Serializers of requests, for the group that asks."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import StrictBody
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step

MOST_CHECKPOINTS = 50


class RequestQuestion(StrictBody):
    """The question of a request."""

    question = serializers.CharField(
        max_length=1000,
        help_text="what you want to know. Advisers read this before they see the boat: write "
        "nothing that identifies the boat or you",
    )
    checkpoints = serializers.ListField(
        child=serializers.CharField(max_length=60),
        default=list,
        max_length=MOST_CHECKPOINTS,
        help_text="codes, if it is about particular ones",
    )


class SecondOpinionRequestBody(ClientIdMixin, RequestQuestion):
    """A second opinion, asked of the club's advisers."""

    wanted_by = serializers.DateField(default=None, allow_null=True)


class SecondOpinionRequestQuery(PageQuery):
    state = serializers.ChoiceField(SecondOpinionRequest.State.choices, required=False)


class SecondOpinionRequestSerializer(serializers.ModelSerializer[SecondOpinionRequest]):
    asked_by = PersonRefSerializer()
    checkpoints = serializers.ListField(child=serializers.CharField())
    taken_by = serializers.SerializerMethodField(help_text="who sees the boat now")
    answered_by = PersonRefSerializer(allow_null=True)
    submissions = serializers.SerializerMethodField(
        help_text="submissions for it; read them like your own"
    )

    class Meta:
        model = SecondOpinionRequest
        fields = (
            "id",
            "version",
            "candidate",
            "yard_day",
            "asked_by",
            "question",
            "checkpoints",
            "wanted_by",
            "state",
            "taken_by",
            "answer",
            "answered_by",
            "answered_at",
            "submissions",
            "created_at",
            "updated_at",
        )

    @extend_schema_field(PersonRefSerializer(allow_null=True))
    def get_taken_by(self, request: SecondOpinionRequest) -> Any:
        live = next(
            (assignment for assignment in request.assignments.all() if assignment.ended_at is None),
            None,
        )
        return live and PersonRefSerializer(live.person).data

    def get_submissions(self, request: SecondOpinionRequest) -> list[uuid.UUID]:
        assignments: Any = request.assignments.all()  # whose visits the selectors give `sent`
        return [
            one.pk
            for assignment in assignments
            if assignment.viewing is not None
            for one in assignment.viewing.sent
            if one.author_id == assignment.person_id
        ]


class SecondOpinionStepSerializer(serializers.ModelSerializer[Step]):
    by = PersonRefSerializer(
        allow_null=True,
        help_text="null: the service, or a person who goes to a yard and declined",
    )
    whom = PersonRefSerializer(
        allow_null=True, help_text="whom the secretary asked, or whose access ended"
    )

    class Meta:
        model = Step
        fields = ("id", "kind", "by", "whom", "words", "created_at")


class GroupAssignmentSerializer(serializers.ModelSerializer[Assignment]):
    """The person outside the group who sees the boat now."""

    person = PersonRefSerializer()

    class Meta:
        model = Assignment
        fields = ("id", "version", "request", "person", "viewing", "created_at")
