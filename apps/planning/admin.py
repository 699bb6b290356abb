"""Trips, read-only in the admin: they change through the API, which keeps plans and versions."""

from django.contrib import admin

from apps.common.admin_classes import ReadOnlyAdmin, ReadOnlyInline
from apps.jobs.admin_columns import FAILING, SHOWN
from apps.planning.models import Trip, TripBoat, TripParty


class PartyInline(ReadOnlyInline[TripParty, Trip]):
    model = TripParty
    fields = ("label", "start", "leaves_at", "back_by", "most_km", "sets_off_at", "back_at")


class BoatInline(ReadOnlyInline[TripBoat, Trip]):
    model = TripBoat
    fields = ("candidate", "wanted", "value", "basis", "minutes", "left_out")


@admin.register(Trip)
class TripAdmin(ReadOnlyAdmin[Trip]):
    list_display = ("name", "day", "group", "club", "state", "outcome", "sequence", *SHOWN)
    list_select_related = ("group", "club")
    list_filter = ("state", "outcome", FAILING)
    search_fields = ("name", "group__name", "club__name")
    inlines = (PartyInline, BoatInline)
