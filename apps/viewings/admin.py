"""Read-only admin pages: findings are a record that an operator must not change."""

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from apps.common.admin_classes import ReadOnlyAdmin, ReadOnlyInline
from apps.jobs.admin_columns import FAILING
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.models import Photo, SellerPhoto, Sound
from apps.viewings.models import Clearance, Finding, FollowUp, Submission, Viewing


class FindingInline(ReadOnlyInline[Finding, Submission]):
    model = Finding
    fields = (
        "checkpoint",
        "kind",
        "level",
        "reason",
        "sureness",
        "measured_value",
        "measured_unit",
        "note",
    )


@admin.register(Viewing)
class ViewingAdmin(ReadOnlyAdmin[Viewing]):
    list_display = (
        "candidate",
        "kind",
        "starts_at",
        "state",
        "where",
        "covered",
        "walk_under_cover",
        "mast_state",
    )
    list_select_related = ("candidate",)
    list_filter = ("kind", "state")
    search_fields = ("id", "candidate__name")


@admin.register(Submission)
class SubmissionAdmin(ReadOnlyAdmin[Submission]):
    list_display = ("boat", "author", "capacity", "vote", "submitted_at", "supersedes")
    list_select_related = ("viewing__candidate", "author", "supersedes__author")
    list_filter = ("capacity",)
    search_fields = ("id", "viewing__candidate__name", "author__name")
    inlines = (FindingInline,)

    def get_queryset(self, request: HttpRequest) -> QuerySet[Submission]:
        # Only its author sees a draft.
        return super().get_queryset(request).filter(state=Submission.State.SUBMITTED)

    @admin.display(ordering="viewing__candidate__name")
    def boat(self, submission: Submission) -> str:
        return submission.viewing.candidate.name


@admin.register(FollowUp)
class FollowUpAdmin(ReadOnlyAdmin[FollowUp]):
    list_display = ("question", "candidate", "asked_of", "assignee", "due_on", "state")
    list_select_related = ("candidate", "assignee")
    list_filter = ("state", "asked_of")
    search_fields = ("question", "candidate__name")


@admin.register(Clearance)
class ClearanceAdmin(ReadOnlyAdmin[Clearance]):
    list_display = ("checkpoint", "candidate", "basis", "level", "dated_on", "withdrawn_at")
    list_select_related = ("candidate", "checkpoint")
    list_filter = ("basis",)
    search_fields = ("checkpoint__code", "candidate__name", "document")


class MediaAdmin(ReadOnlyAdmin[Any]):
    list_select_related = ("viewing__candidate", "added_by")
    list_filter = ("state", "fault", FAILING)
    search_fields = ("id", "viewing__candidate__name", "added_by__name")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Photo | Sound]:
        # Only the author of a draft sees its photos and sounds.
        return super().get_queryset(request).exclude(submission__state=Submission.State.DRAFT)

    @admin.display(ordering="viewing__candidate__name")
    def boat(self, media: Photo | Sound) -> str:
        return media.viewing.candidate.name


@admin.register(Photo)
class PhotoAdmin(MediaAdmin):
    list_display = ("boat", "checkpoint_id", "added_by", "state", "fault", "width", "height")


@admin.register(Sound)
class SoundAdmin(MediaAdmin):
    list_display = ("boat", "checkpoint_id", "added_by", "purpose", "state", "fault", "duration_s")


@admin.register(SellerPhoto)
class SellerPhotoAdmin(ReadOnlyAdmin[SellerPhoto]):
    list_display = ("candidate", "source", "dated_on", "added_by", "state", "fault")
    list_select_related = ("candidate", "added_by")
    list_filter = ("state", "fault", FAILING)
    search_fields = ("id", "candidate__name", "added_by__name")


@admin.register(GateDocument)
class GateDocumentAdmin(ReadOnlyAdmin[GateDocument]):
    list_display = ("candidate", "gate", "kept_as", "added_by", "state", "fault")
    list_select_related = ("candidate", "added_by")
    list_filter = ("state", "fault", FAILING)
    search_fields = ("id", "candidate__name", "added_by__name")
