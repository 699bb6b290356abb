"""Serializers of the queue and the workload, for advisers and the secretary."""

import math
from typing import Any

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import StrictBody
from apps.boats.vocabulary import HullMaterial, Keel
from apps.groups.models import ClubMembership
from apps.http.fields import CurrencyField, MoneyField
from apps.http.pages import LARGEST_PAGE, PageQuery
from apps.second_opinions.models import ClubOpinionSettings
from apps.second_opinions.queue import ORDERS
from apps.viewings.api.fields import OptionalWord


class ClubOpinionSettingsSerializer(serializers.ModelSerializer[ClubOpinionSettings]):
    class Meta:
        model = ClubOpinionSettings
        fields = ("version", "club", "most_taken", "currency")


class ClubOpinionSettingsChange(StrictBody):
    """Only the fields sent change."""

    most_taken = serializers.IntegerField(
        min_value=1, max_value=50, help_text="requests that one adviser may have at a time"
    )
    currency = CurrencyField(help_text="the currency in which values of looks are compared")

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if not facts:
            raise serializers.ValidationError("Send at least one field.", code="empty")
        return facts


class DegreesField(serializers.FloatField):
    """A finite number from a query string."""

    def to_internal_value(self, data: Any) -> float:
        degrees = super().to_internal_value(data)
        if not math.isfinite(degrees):
            self.fail("invalid")
        return degrees


class PlaceQuery(serializers.Serializer[Any]):
    """The point from which distances are measured: both or none."""

    latitude = DegreesField(
        min_value=-90, max_value=90, required=False, help_text="degrees (WGS 84)"
    )
    longitude = DegreesField(min_value=-180, max_value=180, required=False)

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        missing = {"latitude", "longitude"} - facts.keys()
        if len(missing) == 1:
            raise serializers.ValidationError(
                {missing.pop(): "Latitude and longitude go together."}, code="required"
            )
        return facts


class QueueQuery(PlaceQuery):
    cursor = serializers.CharField(required=False, help_text="from `next` of the page before")
    limit = serializers.IntegerField(
        default=50, min_value=1, max_value=LARGEST_PAGE, help_text="rows on a page"
    )
    order = serializers.ChoiceField(
        ORDERS,
        default="value",
        help_text="the highest value first, the earliest date first, or the nearest first",
    )
    whole = serializers.BooleanField(
        default=False, help_text="all open requests, whoever may take them; for the secretary"
    )


class ClubYardSerializer(serializers.Serializer[Any]):
    """A yard of the club."""

    id = serializers.UUIDField()
    name = serializers.CharField()


class RoughPlaceSerializer(serializers.Serializer[Any]):
    """To a tenth of a degree."""

    latitude = serializers.FloatField()
    longitude = serializers.FloatField()


class QueuedRequestSerializer(serializers.Serializer[Any]):
    """One untaken request: only what is needed to choose."""

    id = serializers.UUIDField()
    question = serializers.CharField()
    checkpoints = serializers.ListField(
        child=serializers.CharField(), help_text="those that are in the club's catalogue"
    )
    wanted_by = serializers.DateField(allow_null=True)
    loa_m = serializers.IntegerField(allow_null=True, help_text="length, to the metre")
    hull_material = OptionalWord(HullMaterial.choices)
    keel = OptionalWord(Keel.choices)
    yard = ClubYardSerializer(allow_null=True, help_text="where she lies, if it is the club's yard")
    place = RoughPlaceSerializer(allow_null=True)
    distance_km = serializers.IntegerField(
        allow_null=True, help_text="from your place to the rounded place"
    )
    value = MoneyField(
        allow_null=True,
        help_text="of a look: how far it is expected to move what she is thought to cost, to two "
        "figures, in the group's own currency",
    )
    value_compared = MoneyField(
        allow_null=True,
        help_text="the same in the queue's currency, by the group's own exchange rate; null where "
        "it gives none, and then it comes last in the order by worth",
    )
    offered_to_you = serializers.BooleanField(help_text="the secretary asked you")
    offered_to = PersonRefSerializer(allow_null=True, help_text="shown only to the secretary")
    suggested = PersonRefSerializer(
        allow_null=True,
        help_text="the adviser with the fewest requests who may be asked; only for the secretary",
    )
    created_at = serializers.DateTimeField()


class DeclineBody(StrictBody):
    reason = serializers.CharField(
        max_length=1000, default="", allow_blank=True, help_text="for the group to read"
    )


class OfferBody(StrictBody):
    adviser = serializers.UUIDField(help_text="id of the person")


class WorkloadQuery(PageQuery):
    since = serializers.DateField(required=False, help_text="first day; 90 days back if left out")
    until = serializers.DateField(required=False, help_text="last day; today if left out")


class WorkloadSerializer(serializers.ModelSerializer[ClubMembership]):
    """What one adviser has now, and has done in the period."""

    person = PersonRefSerializer()
    has = serializers.IntegerField(help_text="now")
    took = serializers.IntegerField()
    answered = serializers.IntegerField()
    handed_back = serializers.IntegerField()

    class Meta:
        model = ClubMembership
        fields = ("person", "role", "has", "took", "answered", "handed_back")
