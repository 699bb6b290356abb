from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin
from apps.outcomes.models import ClubOutcomes, GroupOutcomes, OutcomesFigure


@admin.register(ClubOutcomes)
class ClubOutcomesAdmin(ReadOnlyAdmin[ClubOutcomes]):
    list_display = ("club", "edition", "method", "computed_at")
    list_select_related = ("club",)


@admin.register(OutcomesFigure)
class OutcomesFigureAdmin(ReadOnlyAdmin[OutcomesFigure]):
    """The published figures; nobody may see the data behind them."""

    list_display = ("table", "by", "value", "groups", "boats", "figure", "low", "high")
    list_select_related = ("table",)
    list_filter = ("table__kind", "by")
    search_fields = ("table__subject",)


@admin.register(GroupOutcomes)
class GroupOutcomesAdmin(ReadOnlyAdmin[GroupOutcomes]):
    list_display = ("group", "groups", "boats", "edition", "computed_at")
    list_select_related = ("group",)
    exclude = ("shifts", "factors")
