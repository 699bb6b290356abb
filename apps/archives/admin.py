from typing import Any

from django.contrib import admin

from apps.archives.models import Export, Import
from apps.common.admin_classes import ModelAdmin
from apps.jobs.admin_columns import FAILING, SHOWN


class JobAdmin(ModelAdmin[Any]):
    """Read-only: people make these jobs and workers change them."""

    list_select_related = ("asked_by", "group")
    list_filter = ("state", FAILING)
    search_fields = ("asked_by__name", "asked_by__email", "group__name")

    def has_add_permission(self, request: Any) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False


@admin.register(Export)
class ExportAdmin(JobAdmin):
    list_display = ("asked_by", "group", "state", "size_bytes", *SHOWN, "created_at")


@admin.register(Import)
class ImportAdmin(JobAdmin):
    list_display = ("asked_by", "group", "state", *SHOWN, "created_at")
