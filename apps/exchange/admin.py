"""What the operator sees of the exchange: shown, never edited."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from apps.exchange.models import Attempt, Delivery, Event, Webhook


class OnRecord(admin.ModelAdmin):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Event)
class EventAdmin(OnRecord):
    list_display = ("kind", "group", "number", "thing", "thing_id", "by", "created_at")
    list_select_related = ("by",)
    list_filter = ("kind",)
    search_fields = ("group", "thing_id")
    ordering = ("-created_at",)


@admin.register(Webhook)
class WebhookAdmin(OnRecord):
    list_display = ("url", "group", "enabled", "stopped_because", "failures", "last_success_at")
    list_filter = ("enabled", "stopped_because")
    search_fields = ("url", "group", "note")
    exclude = ("secret", "old_secret")


class AttemptInline(admin.TabularInline):
    model = Attempt
    extra = 0
    can_delete = False


@admin.register(Delivery)
class DeliveryAdmin(OnRecord):
    list_display = ("kind", "webhook", "state", "tries", "due_at", "delivered_at", "created_at")
    list_select_related = ("webhook",)
    list_filter = ("state", "kind")
    search_fields = ("webhook__url", "webhook__group")
    ordering = ("-created_at",)
    inlines = (AttemptInline,)
