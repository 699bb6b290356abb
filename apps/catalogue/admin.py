"""The catalogue and its changes, read-only in the admin: they are versioned."""

from typing import Any

from django.contrib import admin

from apps.catalogue import cost_models, models
from apps.catalogue.own.models import CatalogueChange
from apps.common.admin_classes import ReadOnlyAdmin


@admin.register(models.Edition)
class EditionAdmin(ReadOnlyAdmin[models.Edition]):
    list_display = ("number", "loaded_at", "base_year", "currency")


@admin.register(CatalogueChange)
class CatalogueChangeAdmin(ReadOnlyAdmin[CatalogueChange]):
    """Changes of clubs and groups, which they make themselves, in editions."""

    list_display = ("kind", "code", "state", "number", "club", "group", "by", "created_at")
    list_select_related = ("club", "group", "by")
    list_filter = ("kind", "state")
    search_fields = ("code", "note")


@admin.register(models.CheckpointVersion)
class CheckpointVersionAdmin(ReadOnlyAdmin[models.CheckpointVersion]):
    list_display = ("checkpoint", "number", "whose", "title", "area", "professional", "edition")
    list_select_related = ("checkpoint", "area", "edition")
    list_filter = ("area", "professional")
    search_fields = ("checkpoint__code", "title")


@admin.register(models.RemedyVersion)
class RemedyVersionAdmin(ReadOnlyAdmin[models.RemedyVersion]):
    list_display = ("remedy", "number", "title", "area", "own_work", "urgency", "confidence")
    list_select_related = ("remedy", "area")
    list_filter = ("area", "own_work", "urgency", "confidence")
    search_fields = ("remedy__code", "title")


@admin.register(models.Caution, models.Scale)
class CodedAdmin(ReadOnlyAdmin[Any]):
    list_display = ("code", "title", "retired")
    list_filter = ("retired",)
    search_fields = ("code", "title")


@admin.register(cost_models.Enabling, cost_models.Fee, cost_models.RunningCost)
class PricedAdmin(ReadOnlyAdmin[Any]):
    list_display = ("code", "title", "source", "retired")
    list_filter = ("retired",)
    search_fields = ("code", "title")
