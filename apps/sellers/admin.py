from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.sellers.models import SellerAnswer


@admin.register(SellerAnswer)
class SellerAnswerAdmin(ReadOnlyAdmin[SellerAnswer]):
    list_display = ("candidate", "code", "said_by", "said_on", "added_by", "withdrawn_at")
    list_select_related = ("candidate", "added_by")
    list_filter = ("said_by",)
    search_fields = ("candidate__name", "checkpoint__code", "question")
