"""Serializers of submissions with their findings."""

from collections.abc import Iterable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.fields import empty

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import FigureField, StrictBody
from apps.catalogue.vocabulary import OWNERS
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin
from apps.viewings.api.fields import OptionalWord
from apps.viewings.api.media_serializers import MediaRefSerializer
from apps.viewings.api.usual_findings import usual_finding
from apps.viewings.findings import FindingDraft
from apps.viewings.measures import Measured
from apps.viewings.media.models import Photo, Sound
from apps.viewings.models import PROFESSIONS, REASONS, Finding, Submission
from apps.viewings.submitting import SubmissionContent

MOST_FINDINGS = 500


class MeasuredSerializer(StrictBody):
    """A measured value as it was read."""

    value = FigureField()
    unit = serializers.CharField(
        max_length=20, help_text="the checkpoint's own unit or one that converts to it"
    )


class FindingListSerializer(serializers.ListSerializer[Any]):
    """The findings of one submission, composed without the fields' own steps: they are many."""

    def to_representation(self, findings: Any) -> list[dict[str, Any]]:
        found = list(findings.all())
        if not found:
            return []
        photos = by_checkpoint(found[0].submission.photos.all())
        sounds = by_checkpoint(found[0].submission.sounds.all())
        return [
            finding_shown(one, photos.get(one.checkpoint_id, []), sounds.get(one.checkpoint_id, []))
            for one in found
        ]


class FindingSerializer(serializers.ModelSerializer[Finding]):
    version = serializers.IntegerField(
        source="checkpoint_version.number", help_text="of the checkpoint, when it was submitted"
    )
    whose = serializers.ChoiceField(
        OWNERS,
        source="checkpoint_version.whose",
        help_text="the layer of its words: the base's, the club's or the group's",
    )
    title = serializers.CharField(source="checkpoint_version.title")
    level = serializers.IntegerField(allow_null=True, min_value=0, max_value=4)
    reason = OptionalWord(list(REASONS.items()))
    measured = MeasuredSerializer(allow_null=True, read_only=True)
    tags = serializers.ListField(child=serializers.CharField())
    photos = serializers.ListField(
        child=serializers.UUIDField(), read_only=True, help_text="ids of those that go with it"
    )
    sounds = serializers.ListField(
        child=serializers.UUIDField(), read_only=True, help_text="ids of those that go with it"
    )

    class Meta:
        model = Finding
        list_serializer_class = FindingListSerializer
        fields = (
            "checkpoint",
            "version",
            "whose",
            "title",
            "kind",
            "level",
            "reason",
            "sureness",
            "measured",
            "note",
            "tags",
            "photos",
            "sounds",
        )


def by_checkpoint(media: Iterable[Photo | Sound]) -> dict[str | None, list[str]]:
    """Ids of photos or sounds by the checkpoint of the finding that they go with."""
    ids: dict[str | None, list[str]] = {}
    for one in media:
        ids.setdefault(one.checkpoint_id, []).append(str(one.pk))
    return ids


def finding_shown(finding: Finding, photos: list[str], sounds: list[str]) -> dict[str, Any]:
    """What `FindingSerializer` declares."""
    version, measured = finding.checkpoint_version, None
    if finding.measured_value is not None:
        measured = {"value": finding.measured_value, "unit": finding.measured_unit}
    return {
        "checkpoint": finding.checkpoint_id,
        "version": version.number,
        "whose": version.whose,
        "title": version.title,
        "kind": finding.kind,
        "level": finding.level,
        "reason": finding.reason or None,
        "sureness": finding.sureness,
        "measured": measured,
        "note": finding.note,
        "tags": finding.tags,
        "photos": photos,
        "sounds": sounds,
    }


class SubmissionSerializer(serializers.ModelSerializer[Submission]):
    """One person's findings from one visit."""

    # The context has the `reader`, and `votes_open`: whether others' votes are shown.

    candidate = serializers.UUIDField(source="viewing.candidate_id")
    author = PersonRefSerializer()
    client = ClientField(help_text="the client that sent it and its findings")
    superseded_by = serializers.SerializerMethodField(
        help_text="the correction that counts instead"
    )
    profession = OptionalWord(PROFESSIONS)
    vote = serializers.SerializerMethodField()
    received_at = serializers.DateTimeField(source="created_at", help_text="by the service's clock")
    vote_hidden = serializers.SerializerMethodField(
        help_text="others' votes are hidden until you give yours or the organiser opens them"
    )
    findings = FindingSerializer(many=True)
    photos = MediaRefSerializer(many=True, help_text="with or without a finding")
    sounds = MediaRefSerializer(many=True)

    class Meta:
        model = Submission
        fields = (
            "id",
            "version",
            "viewing",
            "candidate",
            "author",
            "client",
            "state",
            "submitted_at",
            "supersedes",
            "superseded_by",
            "capacity",
            "profession",
            "vote",
            "vote_hidden",
            "minutes",
            "note",
            "observed_at",
            "observed_stated",
            "received_at",
            "findings",
            "photos",
            "sounds",
            "created_at",
            "updated_at",
        )

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_superseded_by(self, submission: Submission) -> Any:
        successor = getattr(submission, "superseded_by", None)
        if successor is None or successor.state == Submission.State.DRAFT:
            return None
        return successor.pk

    @extend_schema_field(serializers.ChoiceField(Submission.Vote.choices, allow_null=True))
    def get_vote(self, submission: Submission) -> str | None:
        return None if self.get_vote_hidden(submission) else submission.vote or None

    def get_vote_hidden(self, submission: Submission) -> bool:
        return not (self.context["votes_open"] or submission.author_id == self.context["reader"].pk)


class SubmissionQuery(PageQuery):
    live = serializers.BooleanField(
        default=False, help_text="only what counts: submitted and not superseded"
    )


class FindingBody(StrictBody):
    """One checkpoint: looked at, with a level; not possible, with a reason; or does not apply."""

    checkpoint = serializers.CharField(max_length=60, help_text="code from the checklist")
    kind = serializers.ChoiceField(Finding.Kind.choices)
    level = serializers.IntegerField(
        min_value=0,
        max_value=4,
        required=False,
        allow_null=True,
        help_text="0 sound, 1 serviceable, 2 tired, 3 defective, 4 failed; if looked. May be left "
        "out where a measured value gives it",
    )
    reason = OptionalWord(list(REASONS.items()), help_text="if it could not be looked at")
    sureness = serializers.ChoiceField(Finding.Sureness.choices, default=Finding.Sureness.FAIRLY)
    measured = MeasuredSerializer(
        required=False, allow_null=True, help_text="where the checkpoint has a measure"
    )
    note = serializers.CharField(max_length=4000, default="", allow_blank=True)
    tags = serializers.ListField(
        child=serializers.CharField(max_length=60), default=list, max_length=30
    )

    def run_validation(self, data: Any = empty) -> Any:
        """A finding in the usual form is read at once: the fields' own steps cost ten times that.

        The fields read whatever else comes, and name the faults.
        """
        usual = usual_finding(data)
        return super().run_validation(data) if usual is None else usual


class SubmissionFields(StrictBody):
    """A whole submission with its findings."""

    state = serializers.ChoiceField(
        Submission.State.choices,
        default=Submission.State.DRAFT,
        help_text="only its author sees a draft; a submitted one never changes",
    )
    supersedes = serializers.UUIDField(
        default=None,
        allow_null=True,
        help_text="an own submission on the same candidate that this one corrects",
    )
    capacity = serializers.ChoiceField(
        Submission.Capacity.choices, default=Submission.Capacity.MEMBER
    )
    profession = OptionalWord(PROFESSIONS, default="", help_text="in capacity professional")
    vote = OptionalWord(
        Submission.Vote.choices, default="", help_text="your own opinion of the boat, if you buy"
    )
    minutes = serializers.IntegerField(
        min_value=1, max_value=1440, default=None, allow_null=True, help_text="time spent"
    )
    note = serializers.CharField(max_length=4000, default="", allow_blank=True)
    observed_at = serializers.DateTimeField(
        default=None,
        allow_null=True,
        help_text="by your clock; if one person looked twice on one visit, the later look counts",
    )
    findings = FindingBody(many=True, default=list, max_length=MOST_FINDINGS)  # type: ignore[call-arg]  # for the list


class SubmissionBody(ClientIdMixin, SubmissionFields):
    """A whole submission with its findings, and optionally an id made by the client."""


def content_of(body: dict[str, Any]) -> SubmissionContent:
    """The content of a validated body."""
    findings = tuple(finding_of(finding) for finding in body["findings"])
    return SubmissionContent(**{**body, "findings": findings})


def finding_of(body: dict[str, Any]) -> FindingDraft:
    measured = body.get("measured")
    return FindingDraft(
        **{
            **body,
            "measured": Measured(**measured) if measured else None,
            "tags": tuple(body["tags"]),
        }
    )
