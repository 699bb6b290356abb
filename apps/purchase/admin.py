from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.purchase.models import Bill, Quote


@admin.register(Quote)
class QuoteAdmin(ReadOnlyAdmin[Quote]):
    list_display = (
        "remedy",
        "candidate",
        "amount",
        "currency",
        "firmness",
        "from_whom",
        "dated_on",
        "withdrawn_at",
    )
    list_select_related = ("candidate", "remedy")
    list_filter = ("firmness",)
    search_fields = ("remedy__code", "candidate__name", "from_whom")


@admin.register(Bill)
class BillAdmin(ReadOnlyAdmin[Bill]):
    list_display = (
        "remedy",
        "candidate",
        "amount",
        "currency",
        "done_by",
        "dated_on",
        "withdrawn_at",
    )
    list_select_related = ("candidate", "remedy")
    list_filter = ("done_by",)
    search_fields = ("remedy__code", "candidate__name", "document")
