"""What the operator sees of notices and mails: shown, never edited, and none of what they say."""

from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.jobs.admin_columns import FAILING, SHOWN
from apps.notices.models import Inbox, Letter, Notice, Watch


@admin.register(Letter)
class LetterAdmin(ReadOnlyAdmin[Letter]):
    list_display = ("occasion", "period", "person", "state", *SHOWN, "ended_at")
    list_select_related = ("person",)
    list_filter = ("state", "occasion", FAILING)
    search_fields = ("person__email", "last_error")
    ordering = ("-created_at",)


@admin.register(Notice)
class NoticeAdmin(ReadOnlyAdmin[Notice]):
    list_display = ("matter", "person", "group", "told_at", "read_at", "done_at", "settled_at")
    list_select_related = ("person", "group")
    list_filter = ("kind", "matter")
    search_fields = ("person__email", "thing_id")
    exclude = ("facts",)
    ordering = ("-told_at",)


@admin.register(Inbox)
class InboxAdmin(ReadOnlyAdmin[Inbox]):
    list_display = ("person", "rhythm", "hour", "time_zone", "confirmed_email")
    list_select_related = ("person",)
    search_fields = ("person__email",)


@admin.register(Watch)
class WatchAdmin(ReadOnlyAdmin[Watch]):
    list_display = ("group", "number", "due_at", *SHOWN)
    list_filter = (FAILING,)
    list_select_related = ("group",)
