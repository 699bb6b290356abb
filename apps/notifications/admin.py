"""Read-only admin pages of notifications and mails, without their content."""

from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.jobs.admin_columns import FAILING, SHOWN
from apps.notifications.models import DigestEmail, EventCursor, Inbox, Notification


@admin.register(DigestEmail)
class DigestEmailAdmin(ReadOnlyAdmin[DigestEmail]):
    list_display = ("occasion", "period", "person", "state", *SHOWN, "ended_at")
    list_select_related = ("person",)
    list_filter = ("state", "occasion", FAILING)
    search_fields = ("person__email", "last_error")
    ordering = ("-created_at",)


@admin.register(Notification)
class NotificationAdmin(ReadOnlyAdmin[Notification]):
    list_display = ("type", "person", "group", "added_at", "read_at", "done_at", "settled_at")
    list_select_related = ("person", "group")
    list_filter = ("kind", "type")
    search_fields = ("person__email", "thing_id")
    exclude = ("facts",)
    ordering = ("-added_at",)


@admin.register(Inbox)
class InboxAdmin(ReadOnlyAdmin[Inbox]):
    list_display = ("person", "rhythm", "hour", "time_zone", "confirmed_email")
    list_select_related = ("person",)
    search_fields = ("person__email",)


@admin.register(EventCursor)
class EventCursorAdmin(ReadOnlyAdmin[EventCursor]):
    list_display = ("group", "number", "due_at", *SHOWN)
    list_filter = (FAILING,)
    list_select_related = ("group",)
