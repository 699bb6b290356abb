from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.ownership.models import Clause, Wording


@admin.register(Clause)
class ClauseAdmin(ReadOnlyAdmin[Clause]):
    list_display = ("topic", "group", "wordings_made", "updated_at")
    list_select_related = ("group",)
    search_fields = ("group__name",)


@admin.register(Wording)
class WordingAdmin(ReadOnlyAdmin[Wording]):
    list_display = ("number", "clause", "written_by", "created_at")
    list_select_related = ("clause__group", "written_by")
    search_fields = ("text", "clause__group__name")
