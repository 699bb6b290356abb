from decimal import Decimal
from typing import Any, cast

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.boats.api.fields import AmountField, RatesField, StrictBody
from apps.boats.exchange_rates import brief_warnings, catalogue_currency
from apps.boats.list_models import CandidateList
from apps.boats.list_services import BRIEF
from apps.http.fields import AnyField, CurrencyField, MoneyField, WarningSerializer
from apps.http.views import ClientIdMixin
from apps.http.warnings import Warned

# Help text of each line of the brief that is an amount in the list's currency.
AMOUNTS = {
    "budget": "the most the group will spend to be sailing",
    "survey_fee_per_m": "fee of a professional survey, per metre of LOA",
    "survey_fee_minimum": "lowest fee of a professional survey",
    "survey_lift_out": "lifting the boat out for the survey",
    "transport": "bringing the boat home",
    "registration": "registration and papers",
    "yard_hourly_rate": "price of an hour of a yard's work",
    "own_hour_value": "value of an hour of the group's own work",
}


# Null while the brief has no rate for the catalogue's currency.
FROM_THE_CATALOGUE = (
    "survey_fee_per_m",
    "survey_fee_minimum",
    "survey_lift_out",
    "registration",
    "yard_hourly_rate",
)


def part(
    max_value: str, max_digits: int, decimal_places: int, help_text: str, **options: Any
) -> serializers.DecimalField:
    return serializers.DecimalField(
        min_value=Decimal(0),
        max_value=Decimal(max_value),
        max_digits=max_digits,
        decimal_places=decimal_places,
        help_text=help_text,
        **options,
    )


class BriefBody(StrictBody):
    """Lines that are left out take their usual values. Amounts are in the list's currency.

    Amounts that are left out come from the catalogue, converted by the rate for its currency in
    `exchange_rates`; without that rate they stay null, and `warnings` of the answer says so.
    """

    currency = CurrencyField(help_text="ISO 4217; it cannot be changed")
    budget = MoneyField(help_text=AMOUNTS["budget"])
    required_confidence = serializers.DecimalField(
        max_digits=3,
        decimal_places=2,
        min_value=Decimal("0.5"),
        max_value=Decimal("0.99"),
        required=False,
        help_text="how sure the group wants to be of staying within the budget",
    )
    tax_rate = part("1", 5, 4, "tax on the purchase, as part of the price", required=False)
    reserve_rate = part("1", 4, 3, "kept in reserve, as part of the price", required=False)
    expected_price_share = serializers.DecimalField(
        max_digits=4,
        decimal_places=3,
        min_value=Decimal("0.001"),
        max_value=Decimal("1.5"),
        required=False,
        help_text="the part of the asking price the group expects to pay",
    )
    expected_price_share_sd = part("0.5", 4, 3, "standard deviation of that part", required=False)
    money_off_chance = part(
        "1", 3, 2, "chance that a seller takes off what a survey found", required=False
    )
    own_remedies = serializers.ListField(
        child=serializers.SlugField(max_length=60),
        max_length=300,
        required=False,
        help_text="codes of remedies that the group does itself",
    )
    own_hours = serializers.IntegerField(
        min_value=0,
        max_value=100_000,
        required=False,
        help_text="hours that the group has for its own work",
    )
    exchange_rates = RatesField(
        required=False, help_text="value of one unit of another currency in the list's"
    )
    price_year = serializers.IntegerField(
        min_value=1990, max_value=2100, required=False, help_text="year of the prices"
    )
    travel_km = serializers.IntegerField(
        min_value=0,
        max_value=21_000,
        required=False,
        allow_null=True,
        help_text="how far members will travel to look",
    )
    years_kept = serializers.IntegerField(
        min_value=1, max_value=60, required=False, help_text="years for the cost of ownership"
    )
    discount_rate = part("0.5", 5, 4, "yearly rate for the cost of ownership", required=False)
    vote_weights = serializers.ChoiceField(
        CandidateList.VoteWeights.choices, required=False, help_text="how members' orders count"
    )

    def get_fields(self) -> dict[str, AnyField]:
        fields = super().get_fields()
        for name, help_text in AMOUNTS.items():
            fields.setdefault(name, MoneyField(required=False, help_text=help_text))
        return fields

    def validate(self, brief: dict[str, Any]) -> dict[str, Any]:
        """Amounts as plain decimals, after a check that they are in the list's currency."""
        currency = self.context.get("currency") or brief["currency"]
        other = {
            name: {"currency": [serializers.ErrorDetail(f"Not {currency}.", "other_currency")]}
            for name in AMOUNTS
            if name in brief and brief[name].currency != currency
        }
        if other:
            raise serializers.ValidationError(other)
        return {n: value.amount if n in AMOUNTS else value for n, value in brief.items()}


class BriefChangeBody(BriefBody):
    """Only the lines sent change."""

    def get_fields(self) -> dict[str, AnyField]:
        fields = super().get_fields()
        fields["currency"].required = fields["budget"].required = False
        return fields


class BriefSerializer(serializers.ModelSerializer[CandidateList]):
    exchange_rates = RatesField(help_text="value of one unit of another currency in the list's")
    own_remedies = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = CandidateList
        fields = [name for name in BRIEF if name not in AMOUNTS]
        read_only_fields = fields

    def get_fields(self) -> dict[str, AnyField]:
        amounts = {
            name: AmountField(
                name, "currency", help_text=help_text, allow_null=name in FROM_THE_CATALOGUE
            )
            for name, help_text in AMOUNTS.items()
        }
        return {**super().get_fields(), **amounts}


class ListSerializer(serializers.ModelSerializer[CandidateList]):
    brief = BriefSerializer(source="*")
    warnings = serializers.SerializerMethodField(help_text="faults of the brief")

    @extend_schema_field(WarningSerializer(many=True))
    def get_warnings(self, candidate_list: CandidateList) -> list[Warned]:
        context = cast(dict[str, Any], self.context)  # asked once for all lists of an answer
        if "catalogue_currency" not in context:
            context["catalogue_currency"] = catalogue_currency()
        return brief_warnings(candidate_list, context["catalogue_currency"])

    class Meta:
        model = CandidateList
        fields = (
            "id",
            "version",
            "group",
            "name",
            "brief",
            "opinions_open",
            "warnings",
            "created_at",
            "updated_at",
        )
        read_only_fields = fields


class ListBody(ClientIdMixin, StrictBody):
    """A list and its brief."""

    name = serializers.CharField(max_length=120)
    brief = BriefBody()


class ListChangeBody(StrictBody):
    """Only the fields sent change, also within the brief."""

    name = serializers.CharField(max_length=120)
    brief = BriefChangeBody()
    opinions_open = serializers.BooleanField(
        help_text="let everybody see everybody's votes, valuations and ballots; this is recorded"
    )
