from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.surveys.models import Survey, SurveyReport, SurveyVote


@admin.register(Survey)
class SurveyAdmin(ReadOnlyAdmin[Survey]):
    list_display = ("candidate", "kind", "surveyor", "planned_on", "state")
    list_select_related = ("candidate",)
    list_filter = ("kind", "state")
    search_fields = ("candidate__name", "surveyor")


@admin.register(SurveyReport)
class SurveyReportAdmin(ReadOnlyAdmin[SurveyReport]):
    list_display = ("survey", "number", "document", "looked_at", "entered_by")
    list_select_related = ("survey", "entered_by")
    search_fields = ("survey__candidate__name", "document")


@admin.register(SurveyVote)
class SurveyVoteAdmin(ReadOnlyAdmin[SurveyVote]):
    list_display = ("candidate", "counted_by", "quorum", "outcome", "closed_at")
    list_select_related = ("candidate",)
    list_filter = ("outcome", "counted_by")
    search_fields = ("candidate__name",)
