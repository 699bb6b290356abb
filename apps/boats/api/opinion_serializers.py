from typing import Any

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField, StrictBody, UnitsQuery, WantedValueField, WordField
from apps.boats.models import Ballot, Judgement, Valuation, Want
from apps.boats.quantities import IMPERIAL, SI_NAMES
from apps.common.units import Units
from apps.http.fields import MoneyField
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin

LARGEST_BALLOT = 500


class WantSerializer(serializers.ModelSerializer[Want]):
    person = PersonRefSerializer()
    test = WordField(Want.Test.choices, help_text="null for a free want")
    value = WantedValueField(allow_null=True)

    class Meta:
        model = Want
        fields = (
            "id",
            "version",
            "list",
            "person",
            "kind",
            "weight",
            "subject",
            "key",
            "test",
            "value",
            "text",
            "created_at",
            "updated_at",
        )
        read_only_fields = fields

    def to_representation(self, want: Want) -> dict[str, Any]:
        data = super().to_representation(want)
        imperial = IMPERIAL.get(want.key)
        if imperial and want.value is not None and self.context.get("units") == Units.IMPERIAL:
            data |= {"key": imperial.name, "value": imperial.from_si(want.value)}
        return data


class WantChangeBody(StrictBody):
    """A want: a limit on a particular, ratio or checkpoint, or a free want in words."""

    kind = serializers.ChoiceField(Want.Kind.choices)
    weight = serializers.IntegerField(
        min_value=1, max_value=5, required=False, help_text="weight of a wish; a must has none"
    )
    subject = serializers.ChoiceField(Want.Subject.choices)
    key = serializers.CharField(
        max_length=60,
        required=False,
        allow_blank=True,
        help_text="name of the particular (in either unit), ratio or checkpoint",
    )
    test = WordField(Want.Test.choices, required=False)
    value = WantedValueField(required=False, allow_null=True)
    text = serializers.CharField(
        max_length=300, required=False, allow_blank=True, help_text="the want in words"
    )

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        """The want in SI: a limit in feet or pounds needs the name with that unit."""
        if "test" in facts:
            facts["test"] = facts["test"] or ""
        si_name = SI_NAMES.get(facts.get("key", ""))
        if si_name is None:
            return facts
        if "value" not in facts:
            raise serializers.ValidationError(
                {"value": [serializers.ErrorDetail("Send it with its unit.", "required")]}
            )
        value = facts["value"]
        if isinstance(value, int | float):
            value = IMPERIAL[si_name].to_si(value)
        return {**facts, "key": si_name, "value": value}


class WantBody(ClientIdMixin, WantChangeBody):
    """A want: a limit on a particular, ratio or checkpoint, or a free want in words."""


class WantsQuery(PageQuery, UnitsQuery):
    pass


class JudgementSerializer(serializers.ModelSerializer[Judgement]):
    class Meta:
        model = Judgement
        fields = ("id", "version", "want", "candidate", "met", "note", "created_at", "updated_at")
        read_only_fields = fields


class JudgementBody(StrictBody):
    """Whether she meets a free want."""

    met = serializers.BooleanField()
    note = serializers.CharField(max_length=300, required=False, allow_blank=True)


class ValuationSerializer(serializers.ModelSerializer[Valuation]):
    person = PersonRefSerializer()
    valuation = AmountField("amount", "candidate.list.currency")

    class Meta:
        model = Valuation
        fields = ("id", "version", "candidate", "person", "valuation", "created_at", "updated_at")
        read_only_fields = fields


class ValuationBody(StrictBody):
    """The price that the sender would pay for her."""

    valuation = MoneyField(help_text="in the list's currency, for the boat with everything right")


class BallotSerializer(serializers.ModelSerializer[Ballot]):
    person = PersonRefSerializer()
    ranks = serializers.ListField(
        child=serializers.ListField(child=serializers.UUIDField()),
        help_text="candidates, best first, ties in one list; those left out are not ranked",
    )

    class Meta:
        model = Ballot
        fields = ("id", "version", "list", "person", "ranks", "created_at", "updated_at")
        read_only_fields = fields


class BallotBody(StrictBody):
    """The sender's order of the list."""

    ranks = serializers.ListField(
        child=serializers.ListField(
            child=serializers.UUIDField(), min_length=1, max_length=LARGEST_BALLOT
        ),
        max_length=LARGEST_BALLOT,
        help_text="candidates, best first, ties in one list; some may be left out",
    )


class SeenPageSerializer(serializers.Serializer[Any]):
    next = serializers.CharField(
        allow_null=True, help_text="address of the next page, or null at the end"
    )
    hidden = serializers.IntegerField(
        help_text="how many others gave one that you see only after giving yours"
    )


class ValuationPageSerializer(SeenPageSerializer):
    results = ValuationSerializer(many=True)


class BallotPageSerializer(SeenPageSerializer):
    results = BallotSerializer(many=True)
