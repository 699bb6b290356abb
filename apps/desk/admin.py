"""What was asked and who saw what is on record: the operator looks, and changes nothing."""

from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin, ReadOnlyInline
from apps.desk.models import ClubDesk, GroupDesk, LookRequest, Step, Take, YardDay


class StepInline(ReadOnlyInline[Step, LookRequest]):
    model = Step
    fields = ("kind", "by", "whom", "words", "created_at")
    readonly_fields = ("created_at",)


class TakeInline(ReadOnlyInline[Take, LookRequest]):
    model = Take
    fields = ("person", "created_at", "ended_at", "ending")
    readonly_fields = ("created_at",)


@admin.register(LookRequest)
class LookRequestAdmin(ReadOnlyAdmin[LookRequest]):
    list_display = ("question", "candidate", "club", "state", "wanted_by", "offered_to")
    list_select_related = ("candidate", "club", "offered_to")
    list_filter = ("state",)
    search_fields = ("id", "question", "candidate__name")
    inlines = (TakeInline, StepInline)


@admin.register(YardDay)
class YardDayAdmin(ReadOnlyAdmin[YardDay]):
    list_display = ("viewing", "room", "says_who", "by_setting", "closed_at")
    list_select_related = ("viewing",)
    search_fields = ("id", "viewing__candidate__name")


@admin.register(ClubDesk)
class ClubDeskAdmin(ReadOnlyAdmin[ClubDesk]):
    list_display = ("club", "most_taken", "currency")
    list_select_related = ("club",)


@admin.register(GroupDesk)
class GroupDeskAdmin(ReadOnlyAdmin[GroupDesk]):
    list_display = ("group", "opens_yard_days")
    list_select_related = ("group",)
