from django.contrib import admin

from apps.accounts.models import Person, Token


@admin.register(Person)
class PersonAdmin(admin.ModelAdmin):
    list_display = ("name", "email", "kind", "is_active", "is_staff", "created_at")
    list_filter = ("kind", "is_active", "is_staff")
    search_fields = ("name", "email")
    readonly_fields = ("password", "last_login")


@admin.register(Token)
class TokenAdmin(admin.ModelAdmin):
    list_display = ("person", "kind", "name", "created_at", "expires_at", "revoked_at")
    list_filter = ("kind",)
    list_select_related = ("person",)
    readonly_fields = ("person", "created_at", "last_used_at")
