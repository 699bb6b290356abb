"""Read-only admin pages of events and webhooks."""

from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin, TabularInline
from apps.events.models import Attempt, Delivery, Event, Webhook
from apps.jobs.admin_columns import FAILING, SHOWN


@admin.register(Event)
class EventAdmin(ReadOnlyAdmin[Event]):
    list_display = ("kind", "group", "number", "thing", "thing_id", "by", "created_at")
    list_select_related = ("by",)
    list_filter = ("kind",)
    search_fields = ("group", "thing_id")
    ordering = ("-created_at",)


@admin.register(Webhook)
class WebhookAdmin(ReadOnlyAdmin[Webhook]):
    list_display = ("url", "group", "enabled", "stopped_because", *SHOWN, "last_success_at")
    list_filter = ("enabled", "stopped_because", FAILING)
    search_fields = ("url", "group", "note")
    exclude = ("secret", "old_secret")


class AttemptInline(TabularInline[Attempt, Delivery]):
    model = Attempt
    extra = 0
    can_delete = False


@admin.register(Delivery)
class DeliveryAdmin(ReadOnlyAdmin[Delivery]):
    list_display = ("kind", "webhook", "state", "tries", "due_at", "delivered_at", "created_at")
    list_select_related = ("webhook",)
    list_filter = ("state", "kind")
    search_fields = ("webhook__url", "webhook__group")
    ordering = ("-created_at",)
    inlines = (AttemptInline,)
