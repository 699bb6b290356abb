"""Read-only admin pages: requests and accesses are a record that an operator must not change."""

from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin, ReadOnlyInline
from apps.second_opinions.models import (
    Assignment,
    ClubOpinionSettings,
    GroupOpinionSettings,
    SecondOpinionRequest,
    Step,
    YardDay,
)


class StepInline(ReadOnlyInline[Step, SecondOpinionRequest]):
    model = Step
    fields = ("kind", "by", "whom", "words", "created_at")
    readonly_fields = ("created_at",)


class AssignmentInline(ReadOnlyInline[Assignment, SecondOpinionRequest]):
    model = Assignment
    fields = ("person", "created_at", "ended_at", "ending")
    readonly_fields = ("created_at",)


@admin.register(SecondOpinionRequest)
class SecondOpinionRequestAdmin(ReadOnlyAdmin[SecondOpinionRequest]):
    list_display = ("question", "candidate", "club", "state", "wanted_by", "offered_to")
    list_select_related = ("candidate", "club", "offered_to")
    list_filter = ("state",)
    search_fields = ("id", "question", "candidate__name")
    inlines = (AssignmentInline, StepInline)


@admin.register(YardDay)
class YardDayAdmin(ReadOnlyAdmin[YardDay]):
    list_display = ("viewing", "room", "says_who", "by_setting", "closed_at")
    list_select_related = ("viewing",)
    search_fields = ("id", "viewing__candidate__name")


@admin.register(ClubOpinionSettings)
class ClubOpinionSettingsAdmin(ReadOnlyAdmin[ClubOpinionSettings]):
    list_display = ("club", "most_taken", "currency")
    list_select_related = ("club",)


@admin.register(GroupOpinionSettings)
class GroupOpinionSettingsAdmin(ReadOnlyAdmin[GroupOpinionSettings]):
    list_display = ("group", "opens_yard_days")
    list_select_related = ("group",)
