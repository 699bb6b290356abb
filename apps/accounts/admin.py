from django.contrib import admin

from apps.accounts.models import Person, Program, Token
from apps.common.admin_classes import ModelAdmin


@admin.register(Person)
class PersonAdmin(ModelAdmin[Person]):
    list_display = ("name", "email", "kind", "is_active", "is_staff", "created_at")
    list_filter = ("kind", "is_active", "is_staff")
    search_fields = ("name", "email")
    readonly_fields = ("password", "last_login")


@admin.register(Token)
class TokenAdmin(ModelAdmin[Token]):
    list_display = ("person", "kind", "name", "created_at", "expires_at", "revoked_at")
    list_filter = ("kind",)
    list_select_related = ("person",)
    readonly_fields = ("person", "scopes", "created_at", "last_used_at")


class ProgramAdmin(ModelAdmin[Program]):
    """Programs are made by the command add_program or by organisers."""

    list_display = (
        "name",
        "account",
        "client_type",
        "enabled",
        "requests_per_minute",
        "created_at",
    )
    list_filter = ("enabled", "authorization_grant_type", "client_type")
    list_select_related = ("account",)
    search_fields = ("name", "client_id")
    fields = (
        "name",
        "client_id",
        "client_type",
        "account",
        "redirect_uris",
        "allowed_scopes",
        "requests_per_minute",
        "enabled",
    )
    readonly_fields = ("client_id", "client_type", "account")

    def has_add_permission(self, request: object) -> bool:
        return False
