from typing import Any

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField, StrictBody
from apps.http.fields import MoneyField
from apps.http.views import ClientIdMixin
from apps.ownership.models import Handover, HandoverItem


class HandoverFactsSerializer(serializers.ModelSerializer[Handover]):
    price = AmountField("price_amount", "price_currency", allow_null=True)
    changed_by = PersonRefSerializer()

    class Meta:
        model = Handover
        fields = (
            "id",
            "version",
            "candidate",
            "sold_on",
            "seller",
            "buyers",
            "price",
            "hull_number",
            "document",
            "handed_over_on",
            "place",
            "engine_hours",
            "note",
            "changed_by",
            "created_at",
            "updated_at",
        )


class HandoverItemSerializer(serializers.ModelSerializer[HandoverItem]):
    """`found`: how many there were, null until somebody checked it. `missing`: fewer than
    promised."""

    added_by = PersonRefSerializer()
    checked_by = PersonRefSerializer(allow_null=True)
    missing = serializers.BooleanField()

    class Meta:
        model = HandoverItem
        fields = (
            "id",
            "version",
            "candidate",
            "kind",
            "what",
            "promised",
            "found",
            "missing",
            "where",
            "note",
            "added_by",
            "checked_by",
            "checked_at",
            "created_at",
        )


class UsualItemSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    kind = serializers.ChoiceField(HandoverItem.Kind.choices)
    what = serializers.CharField()


class HandedOverSerializer(serializers.Serializer[Any]):
    """`usual`: what is usually handed over and was not added yet."""

    caution = serializers.CharField()
    items = HandoverItemSerializer(many=True)
    usual = UsualItemSerializer(many=True)


def words(max_length: int, help_text: str = "") -> serializers.CharField:
    return serializers.CharField(
        max_length=max_length, default="", allow_blank=True, help_text=help_text
    )


class HandoverBody(StrictBody):
    """The facts of the bill of sale and of the day; what is left out becomes empty."""

    sold_on = serializers.DateField(default=None, allow_null=True)
    seller = words(300, "all who signed as owners")
    buyers = words(300, "in whose names she is bought")
    price = MoneyField(required=False)
    hull_number = words(40, "as it stands on the hull and in the papers")
    document = words(300, "where the signed bill of sale is")
    handed_over_on = serializers.DateField(default=None, allow_null=True)
    place = words(200)
    engine_hours = serializers.IntegerField(
        default=None, allow_null=True, min_value=0, max_value=1_000_000
    )
    note = words(1000)

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        price = facts.pop("price", None)
        facts["price_amount"] = price.amount if price else None
        facts["price_currency"] = price.currency if price else ""
        return facts


class HandoverItemFields(StrictBody):
    kind = serializers.ChoiceField(HandoverItem.Kind.choices)
    what = serializers.CharField(max_length=200)
    promised = serializers.IntegerField(
        default=1, min_value=0, max_value=1000, help_text="how many go with her"
    )


class HandoverItemBody(ClientIdMixin, HandoverItemFields):
    """Something more that goes with her."""


class HandoverItemChangeBody(HandoverItemFields):
    """Only the fields sent change. `found` records you as who checked it, now."""

    found = serializers.IntegerField(min_value=0, max_value=1000, allow_null=True)
    where = serializers.CharField(max_length=200, allow_blank=True)
    note = serializers.CharField(max_length=500, allow_blank=True)

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if not facts:
            raise serializers.ValidationError("Send at least one field.", code="empty")
        return facts


class UsualItemsBody(StrictBody):
    codes = serializers.ListField(
        child=serializers.SlugField(max_length=30), min_length=1, max_length=100
    )


class AddedItemsSerializer(serializers.Serializer[Any]):
    """What was added; items that were there already are not."""

    items = HandoverItemSerializer(many=True)
