from typing import Any

import pycountry
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.gates.models import Gate
from apps.http.bodies import StrictBody


class GatesQuery(serializers.Serializer[Any]):
    sold_in = serializers.CharField(
        required=False,
        help_text="the country of the sale (ISO 3166-1), as DE; all gates if left out",
    )

    def validate_sold_in(self, code: str) -> str:
        if pycountry.countries.get(alpha_2=code) is None:
            raise serializers.ValidationError(
                f"{code!r} is not a country of ISO 3166-1.", code="unknown_country"
            )
        return code


class GateSerializer(serializers.ModelSerializer[Gate]):
    changed_by = PersonRefSerializer()

    class Meta:
        model = Gate
        fields = (
            "id",
            "version",
            "candidate",
            "code",
            "needed",
            "settled",
            "checked_by",
            "due_on",
            "document",
            "note",
            "changed_by",
            "created_at",
            "updated_at",
        )


class GateBody(StrictBody):
    """What the group says of one thing to settle before it buys."""

    needed = serializers.BooleanField(
        default=True, help_text="whether she may only be bought once it is settled"
    )
    settled = serializers.BooleanField(default=False)
    checked_by = serializers.CharField(
        max_length=120, default="", allow_blank=True, help_text="needed once it is settled"
    )
    due_on = serializers.DateField(default=None, allow_null=True)
    document = serializers.CharField(
        max_length=300,
        default="",
        allow_blank=True,
        help_text="what shows it: an extract, a report",
    )
    note = serializers.CharField(max_length=1000, default="", allow_blank=True)


class ListedGateSerializer(serializers.Serializer[Any]):
    """`gate`: what the group said of it, or null. `checked_by`: who usually checks it."""

    code = serializers.CharField(source="kind.code")
    title = serializers.CharField(source="kind.title")
    ask = serializers.CharField(source="kind.ask")
    checked_by = serializers.CharField(source="kind.checked_by")
    local_law = serializers.CharField(source="kind.local_law", help_text="whose law governs it")
    gate = GateSerializer(allow_null=True)


class GatesSerializer(serializers.Serializer[Any]):
    local_law = serializers.CharField()
    gates = ListedGateSerializer(many=True)
