from django.contrib import admin

from apps.purchase.models import Bill, Quote
from apps.viewings.admin import ReadOnly


@admin.register(Quote)
class QuoteAdmin(ReadOnly, admin.ModelAdmin):
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
class BillAdmin(ReadOnly, admin.ModelAdmin):
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
