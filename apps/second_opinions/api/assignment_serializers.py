"""Serializers of one boat of another group, as the assignee sees her."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.candidate_serializers import (
    PlaceSerializer,
    RatiosSerializer,
    particular_fields,
    ratios_serialized,
)
from apps.boats.api.fields import AmountField, StrictBody
from apps.boats.api.yard_serializers import OpeningHoursBody
from apps.boats.models import Candidate
from apps.boats.particulars import sources_of
from apps.boats.vocabulary import SellerKind, Source
from apps.common.units import Units
from apps.common.wording import PRACTICE_FIRST
from apps.http.fields import AnyField
from apps.http.views import person_of
from apps.second_opinions.links import link
from apps.second_opinions.models import Assignment
from apps.viewings.api.media_serializers import ADDRESS, FaultSerializer
from apps.viewings.api.serializers import ConditionsSerializer
from apps.viewings.api.submission_serializers import FindingSerializer
from apps.viewings.media.models import Media, Photo
from apps.viewings.models import Submission, Viewing


class AskedSerializer(serializers.Serializer[Any]):
    """The question, and who asks it."""

    id = serializers.UUIDField(source="pk")
    question = serializers.CharField()
    checkpoints = serializers.ListField(child=serializers.CharField())
    wanted_by = serializers.DateField(allow_null=True)
    asked_by = PersonRefSerializer()
    candidate = serializers.UUIDField(source="candidate_id")
    name = serializers.CharField(source="candidate.name", help_text="of the boat")


class AssignmentSerializer(serializers.ModelSerializer[Assignment]):
    """A request that you took. The context has the ids of `live` assignments."""

    ending = serializers.SerializerMethodField(help_text="how it ended; null while it is live")
    asked = serializers.SerializerMethodField(help_text="null when you may no longer see the boat")

    class Meta:
        model = Assignment
        fields = ("id", "version", "asked", "created_at", "ended_at", "ending")

    @extend_schema_field(serializers.ChoiceField(Assignment.Ending.choices, allow_null=True))
    def get_ending(self, assignment: Assignment) -> str | None:
        # A role may have ended before anything was recorded here.
        if assignment.ended_at is None and assignment.pk not in self.context["live"]:
            return Assignment.Ending.LAPSED.value
        return assignment.ending or None

    @extend_schema_field(AskedSerializer(allow_null=True))
    def get_asked(self, assignment: Assignment) -> Any:
        return (
            AskedSerializer(assignment.request).data
            if assignment.pk in self.context["live"]
            else None
        )


class AssignmentYardSerializer(serializers.Serializer[Any]):
    """The yard where she lies, if known."""

    name = serializers.CharField()
    latitude = serializers.FloatField()
    longitude = serializers.FloatField()
    time_zone = serializers.CharField()
    opening_hours = OpeningHoursBody(allow_null=True, help_text="null: unknown")
    closed_on = serializers.ListField(child=serializers.DateField())


class TakenBoatSerializer(serializers.ModelSerializer[Candidate]):
    """Her particulars, asking price and place, in SI. No list, stage, notes, opinions or findings,
    so that the second opinion is independent."""

    sources = serializers.SerializerMethodField(help_text="of each known particular")
    asking = AmountField("asking_amount", "asking_currency", allow_null=True)
    place = PlaceSerializer(source="*")
    at_yard = AssignmentYardSerializer(allow_null=True)
    seller_kind = serializers.ChoiceField(SellerKind.choices)
    links = serializers.ListField(child=serializers.CharField())
    ratios = serializers.SerializerMethodField()
    caution = serializers.SerializerMethodField()

    class Meta:
        model = Candidate
        fields = (
            "id",
            "name",
            "hull_number",
            "asking",
            "sources",
            "place",
            "at_yard",
            "seller_kind",
            "links",
            "ratios",
            "caution",
        )

    def get_fields(self) -> dict[str, AnyField]:
        return {**super().get_fields(), **particular_fields([Units.SI])}

    @extend_schema_field(serializers.DictField(child=serializers.ChoiceField(Source.choices)))
    def get_sources(self, candidate: Candidate) -> dict[str, str]:
        return sources_of(candidate)

    @extend_schema_field(RatiosSerializer)
    def get_ratios(self, candidate: Candidate) -> dict[str, Any]:
        return ratios_serialized(candidate)

    def get_caution(self, candidate: Candidate) -> str:
        return CAUTION


CAUTION = (
    "This is a screening by a volunteer, not a survey, and clears nothing: say what you saw, and "
    "who must judge it. Ask the seller and the yard before you go. Never go alone, use no untied "
    "ladder, and loosen nothing on a stand. Touch gas, engine, batteries and seacocks only "
    f"together with somebody who may. {PRACTICE_FIRST}"
)


class AssignmentVisitSerializer(serializers.ModelSerializer[Viewing]):
    """The time of your visit, and how she lies."""

    conditions = ConditionsSerializer(source="*")

    class Meta:
        model = Viewing
        fields = ("id", "version", "starts_at", "state", "conditions")


class VisitBody(StrictBody):
    starts_at = serializers.DateTimeField()
    conditions = ConditionsSerializer(required=False)


class TakenSubmissionSerializer(serializers.ModelSerializer[Submission]):
    """Your submission."""

    findings = FindingSerializer(many=True)
    photos = serializers.SerializerMethodField(help_text="ids")

    class Meta:
        model = Submission
        fields = (
            "id",
            "version",
            "viewing",
            "state",
            "submitted_at",
            "supersedes",
            "minutes",
            "note",
            "observed_at",
            "findings",
            "photos",
            "created_at",
            "updated_at",
        )

    def get_photos(self, submission: Submission) -> list[uuid.UUID]:
        return [photo.pk for photo in submission.photos.all()]


class TakenPhotoSerializer(serializers.ModelSerializer[Photo]):
    """Your own picture. The context has the `request`, and the `assignment` for its links."""

    fault = serializers.SerializerMethodField(help_text="why it was rejected, if it was")
    image = serializers.SerializerMethodField()
    thumbnail = serializers.SerializerMethodField()

    class Meta:
        model = Photo
        fields = (
            "id",
            "version",
            "submission",
            "checkpoint",
            "note",
            "state",
            "fault",
            "width",
            "height",
            "image",
            "thumbnail",
            "created_at",
        )

    @extend_schema_field(FaultSerializer(allow_null=True))
    def get_fault(self, photo: Photo) -> dict[str, str] | None:
        return {"code": photo.fault, "detail": photo.get_fault_display()} if photo.fault else None

    @extend_schema_field(ADDRESS)
    def get_image(self, photo: Photo) -> str | None:
        return self._address(photo, "image")

    @extend_schema_field(ADDRESS)
    def get_thumbnail(self, photo: Photo) -> str | None:
        return self._address(photo, "thumbnail")

    def _address(self, photo: Photo, form: str) -> str | None:
        if photo.state != Media.State.READY:
            return None
        request: Request = self.context["request"]
        path = link(self.context["assignment"], photo, form, person_of(request))
        return request.build_absolute_uri(path)


class AnswerBody(StrictBody):
    answer = serializers.CharField(
        max_length=4000,
        default="",
        allow_blank=True,
        help_text="in words; may be left out if you submitted findings",
    )


class HandBackBody(StrictBody):
    reason = serializers.CharField(max_length=1000, help_text="for the group to read")
