from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.expenses.models import Ledger, LedgerEntry


@admin.register(Ledger)
class LedgerAdmin(ReadOnlyAdmin[Ledger]):
    list_display = ("group", "currency", "entries_made", "updated_at")
    list_select_related = ("group",)
    search_fields = ("group__name",)


@admin.register(LedgerEntry)
class EntryAdmin(ReadOnlyAdmin[LedgerEntry]):
    list_display = ("number", "ledger", "kind", "what", "amount", "paid_by", "paid_on")
    list_select_related = ("ledger__group", "paid_by")
    list_filter = ("kind", "purpose")
    search_fields = ("what", "ledger__group__name")
