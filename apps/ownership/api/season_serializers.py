from datetime import date
from decimal import Decimal
from typing import Any

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.appraisal.api.shapes import DerivedSerializer
from apps.boats.api.fields import StrictBody
from apps.catalogue.api.serializers import CautionSerializer
from apps.ownership.models import SeasonSettings, WorkDecision
from apps.ownership.season.models import LONGEST, MOST_HOURS
from apps.ownership.season.work import State

YEARS = (date(1990, 1, 1), date(2190, 1, 1))


def months_field(help_text: str, **options: Any) -> serializers.ListField:
    month = serializers.IntegerField(min_value=1, max_value=12)
    return serializers.ListField(child=month, max_length=12, help_text=help_text, **options)


def amount(**options: Any) -> serializers.DecimalField:
    return serializers.DecimalField(
        max_digits=14, decimal_places=2, min_value=Decimal(0), allow_null=True, **options
    )


class SeasonSettingsSerializer(serializers.ModelSerializer[SeasonSettings]):
    """Money is in the list's currency. `estimates`: what bills are compared with, by remedy."""

    lift_months = months_field("in which the yard lifts and launches; none: at any time")
    sailing_months = months_field("in which she is to be afloat")
    estimates = serializers.DictField(child=serializers.CharField())
    changed_by = PersonRefSerializer()

    class Meta:
        model = SeasonSettings
        fields = (
            "id",
            "version",
            "candidate",
            "first_month",
            "months",
            "own_hours",
            "ashore",
            "lift_months",
            "sailing_months",
            "most_a_month",
            "resale",
            "estimates",
            "changed_by",
            "created_at",
            "updated_at",
        )


class SeasonBody(StrictBody):
    """What bounds the work. Money is in the list's currency."""

    first_month = serializers.DateField(help_text="any day of the first month")
    months = serializers.IntegerField(default=12, min_value=1, max_value=LONGEST)
    own_hours = serializers.IntegerField(
        default=0, min_value=0, max_value=MOST_HOURS, help_text="that the group has in a month"
    )
    ashore = serializers.BooleanField(
        default=False, help_text="whether she stands ashore at the start: no lift-out is paid then"
    )
    lift_months = months_field(
        "in which the yard lifts and launches; none: at any time", default=list
    )
    sailing_months = months_field("in which she is to be afloat", default=list)
    most_a_month = amount(default=None, help_text="the most to spend in a month")
    resale = amount(default=None, help_text="what she is expected to fetch when the years are over")

    def validate_first_month(self, day: date) -> date:
        first, last = YEARS
        if not first <= day < last:
            raise serializers.ValidationError("Give a month from 1990 on.", code="out_of_range")
        return day


class WorkDecisionSerializer(serializers.ModelSerializer[WorkDecision]):
    changed_by = PersonRefSerializer()

    class Meta:
        model = WorkDecision
        fields = (
            "id",
            "version",
            "candidate",
            "remedy",
            "choice",
            "note",
            "changed_by",
            "created_at",
            "updated_at",
        )


class WorkDecisionBody(StrictBody):
    choice = serializers.ChoiceField(WorkDecision.Choice.choices)
    note = serializers.CharField(max_length=500, default="", allow_blank=True)


class WorkItemSerializer(serializers.Serializer[Any]):
    """`estimate`: its cost if it is needed; `cost`: what is still expected, as the bills so
    far move it.
    `because`: the checkpoints that call for it. `not_possible`: no month has the hours, the money
    or the yard for it."""

    remedy = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.CharField(allow_blank=True)
    state = serializers.ChoiceField([one.value for one in State])
    chance = serializers.FloatField(help_text="probability that it is needed")
    safety = serializers.BooleanField()
    urgency = serializers.ChoiceField(["now", "later"])
    done_by = serializers.ChoiceField(["group", "yard"])
    estimate = serializers.CharField()
    cost = serializers.CharField()
    paid = serializers.CharField(allow_null=True, help_text="by bills")
    own_hours = serializers.IntegerField()
    enabling = serializers.ListField(child=serializers.SlugField())
    because = serializers.ListField(child=serializers.CharField())
    cautions = serializers.ListField(child=serializers.SlugField())
    begins = serializers.DateField(allow_null=True)
    ends = serializers.DateField(allow_null=True)
    not_possible = serializers.BooleanField()
    decision = WorkDecisionSerializer(allow_null=True)


class BuyerPartSerializer(serializers.Serializer[Any]):
    person = PersonRefSerializer()
    amount = serializers.CharField()


class SeasonMonthSerializer(serializers.Serializer[Any]):
    """`enabling`: what is in place in this month. The buyers' parts add up to the cost."""

    month = serializers.DateField()
    cost = serializers.CharField()
    own_hours = serializers.IntegerField()
    enabling = serializers.ListField(child=serializers.SlugField())
    by_buyer = BuyerPartSerializer(many=True)


class SeasonEnablingSerializer(serializers.Serializer[Any]):
    """Its cost is due each time it begins."""

    enabling = serializers.SlugField()
    cost = serializers.CharField()
    begins = serializers.ListField(child=serializers.DateField())


class BillsSoFarSerializer(serializers.Serializer[Any]):
    compared = serializers.IntegerField(help_text="bills compared with their estimates")
    factor = serializers.FloatField(help_text="on the estimates that remain")


class SeasonWorkSerializer(serializers.Serializer[Any]):
    """`planned`: with its enabling work. `perhaps`: the expected cost of all that is not planned.
    `proven`: whether no better plan exists."""

    work = WorkItemSerializer(many=True)
    months = SeasonMonthSerializer(many=True)
    enabling = SeasonEnablingSerializer(many=True)
    planned = serializers.CharField()
    perhaps = serializers.CharField()
    paid = serializers.CharField()
    bills = BillsSoFarSerializer()
    proven = serializers.BooleanField()
    sentences = serializers.ListField(child=serializers.CharField())


class StartLineSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(["price", "tax", "purchase_costs", "paid", "planned", "perhaps"])
    amount = serializers.CharField()


class YearLineSerializer(serializers.Serializer[Any]):
    """`amount`: due at the end of the year, less the resale in the last; `present`: today's money.
    Year 0 is the start."""

    year = serializers.IntegerField()
    amount = serializers.CharField()
    present = serializers.CharField()


class KeepingCaseSerializer(serializers.Serializer[Any]):
    """`a_year`: the total as equal sums at the end of each year."""

    resale = serializers.CharField()
    total = serializers.CharField()
    a_year = serializers.CharField()
    by_buyer = BuyerPartSerializer(many=True)
    by_year = YearLineSerializer(many=True)


class KeepingSerializer(serializers.Serializer[Any]):
    """In today's money. `cases`: for the resale price expected, or for none and the price paid."""

    years = serializers.IntegerField()
    discount_rate = serializers.FloatField()
    start = StartLineSerializer(many=True)
    running_year = serializers.CharField()
    cases = KeepingCaseSerializer(many=True)


class CandidateNameSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    name = serializers.CharField()


class SeasonSerializer(DerivedSerializer):
    """`settings`: null until they are set; usual ones hold then. `season`: null while she cannot be
    priced; `missing` and `sentence` say why. Money is decimal text in `currency`."""

    candidate = CandidateNameSerializer()
    list_id = serializers.UUIDField()
    currency = serializers.CharField()
    missing = serializers.ListField(child=serializers.CharField())
    sentence = serializers.CharField(allow_blank=True)
    settings = SeasonSettingsSerializer(allow_null=True)
    season = SeasonWorkSerializer(allow_null=True)
    keeping = KeepingSerializer(allow_null=True)
    cautions = CautionSerializer(many=True)
