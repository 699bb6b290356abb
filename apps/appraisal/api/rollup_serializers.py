"""What a boat would cost, for the API."""

from typing import Any

from rest_framework import serializers

from apps.appraisal.api.candidate_serializers import CandidateAnswerSerializer
from apps.appraisal.api.shapes import (
    AmountSerializer,
    RangeSerializer,
)
from apps.catalogue.vocabulary import AGES_WITH
from apps.purchase.models import Quote


class PartsSerializer(serializers.Serializer[Any]):
    """Expected parts of the all-in cost; they sum to its mean. The last two are not up front."""

    price = AmountSerializer()
    tax = AmountSerializer()
    purchase_costs = AmountSerializer()
    enabling = AmountSerializer(
        help_text="lift-out, mast down and the like for what cannot wait, paid once"
    )
    now = AmountSerializer(help_text="remedies that cannot wait")
    reserve = AmountSerializer()
    later = AmountSerializer(help_text="remedies that can wait")
    enabling_later = AmountSerializer(
        required=False, help_text="enabling work that only these need"
    )


class PurchaseCostSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(["survey", "survey_lift_out", "transport", "registration"])
    amount = AmountSerializer()


class CausesSerializer(serializers.Serializer[Any]):
    """Expected work by why it is expected."""

    seen = AmountSerializer()
    disputed = AmountSerializer()
    not_seen = AmountSerializer()


class AreaCostSerializer(CausesSerializer):
    area = serializers.SlugField()
    title = serializers.CharField()
    expected = AmountSerializer(help_text="all work")
    later = AmountSerializer(required=False, help_text="what of it can wait")


class DriverSerializer(serializers.Serializer[Any]):
    remedy = serializers.SlugField()
    title = serializers.CharField()
    expected = AmountSerializer(help_text="with its part of the enabling work")
    share_of_doubt = serializers.FloatField(help_text="its part of the variance of the work")


class FactorSerializer(serializers.Serializer[Any]):
    factor = serializers.FloatField(help_text="on the catalogue's price")
    groups = serializers.IntegerField(help_text="how many other groups' bills are behind it")
    boats = serializers.IntegerField()


class RemedyCostSerializer(serializers.Serializer[Any]):
    remedy = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    probability = serializers.FloatField(help_text="that it is called for")
    expected = AmountSerializer()
    price = AmountSerializer(help_text="of one unit if it is called for, before that chance")
    counted_by = serializers.CharField(allow_blank=True, help_text="what a unit is, if counted")
    urgency = serializers.ChoiceField(["now", "later"])
    done_by = serializers.ChoiceField(["group", "yard"])
    quoted = serializers.BooleanField()
    club_outcomes = FactorSerializer(
        allow_null=True, help_text="how bills known to the club move the price, if they do"
    )
    confidence = serializers.ChoiceField(["firm", "fair", "rough"])
    source = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class


class EnablingCostSerializer(serializers.Serializer[Any]):
    enabling = serializers.SlugField()
    title = serializers.CharField()
    probability = serializers.FloatField()
    expected = AmountSerializer()


class QuoteUsedSerializer(serializers.Serializer[Any]):
    quote_id = serializers.UUIDField()
    remedy = serializers.SlugField()
    amount = AmountSerializer()
    firmness = serializers.ChoiceField(Quote.Firmness.choices)
    includes_enabling = serializers.BooleanField()
    from_whom = serializers.CharField()
    dated_on = serializers.DateField()
    expired = serializers.BooleanField()


class RunningLineSerializer(serializers.Serializer[Any]):
    code = serializers.SlugField()
    title = serializers.CharField()
    expected = AmountSerializer()
    source = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class


class RunningYearSerializer(serializers.Serializer[Any]):
    """Low and high take all lines going the same way together: they bound the year."""

    low = AmountSerializer()
    likely = AmountSerializer()
    high = AmountSerializer()
    expected = AmountSerializer()
    lines = RunningLineSerializer(many=True)


class OverYearsSerializer(serializers.Serializer[Any]):
    total = AmountSerializer(help_text="in today's money")
    a_year = AmountSerializer(help_text="the same as one equal sum a year")


class OwnershipSerializer(serializers.Serializer[Any]):
    """Buying, putting right, keeping and selling. What she will fetch nobody knows: both ends."""

    years = serializers.IntegerField()
    discount_rate = serializers.FloatField()
    if_worth_nothing_then = OverYearsSerializer()
    if_sold_for_the_price_paid = OverYearsSerializer()


class BuyerCostSerializer(serializers.Serializer[Any]):
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    share = serializers.FloatField()
    upfront = AmountSerializer(required=False, help_text="expected, before she sails")
    later = AmountSerializer(required=False, help_text="expected, for work that can wait")
    expected = AmountSerializer(help_text="all-in: both together")
    high = AmountSerializer(help_text="all-in: one outcome in ten is above")
    running_year = AmountSerializer()


class AssumedSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(
        ["age_unknown", "price_index_year", "own_work_refused", "own_hours_used_up"]
    )
    sentence = serializers.CharField()
    part = serializers.ChoiceField(AGES_WITH, required=False)
    years = serializers.IntegerField(required=False)
    year = serializers.IntegerField(required=False, help_text="last that the price index has")
    carried_to = serializers.IntegerField(
        required=False, help_text="year that prices are carried forward to from there"
    )
    rate = serializers.FloatField(required=False, help_text="by how much a year")
    remedy = serializers.SlugField(required=False)


class RollupSerializer(serializers.Serializer[Any]):
    """Where something is missing only `currency`, `missing` and `sentence` are filled.

    What an earlier version of the model did not tell is left out until it is worked out anew.
    """

    currency = serializers.CharField()
    missing = serializers.ListField(child=serializers.CharField())
    sentence = serializers.CharField(allow_blank=True)
    assumed = AssumedSerializer(many=True)
    upfront = RangeSerializer(
        required=False,
        help_text="what is paid before she sails: price, tax, fees, reserve, and the work that "
        "cannot wait with its enabling work; what the budget has to cover",
    )
    later = RangeSerializer(
        required=False, help_text="work that can wait, with the enabling work that only it needs"
    )
    all_in = RangeSerializer(required=False, help_text="upfront and later together")
    work = RangeSerializer(
        required=False, help_text="all remedies and enabling work, now and later"
    )
    budget = AmountSerializer(required=False)
    within_budget = serializers.FloatField(
        required=False, help_text="chance that what is paid up front stays within the budget"
    )
    parts = PartsSerializer(required=False)
    purchase_costs = PurchaseCostSerializer(many=True, required=False)
    by_area = AreaCostSerializer(many=True, required=False)
    by_cause = CausesSerializer(required=False)
    drivers = DriverSerializer(many=True, required=False)
    remedies = RemedyCostSerializer(many=True, required=False)
    enabling = EnablingCostSerializer(many=True, required=False)
    quotes = QuoteUsedSerializer(many=True, required=False)
    running_year = RunningYearSerializer(required=False)
    ownership = OwnershipSerializer(required=False)
    per_buyer = BuyerCostSerializer(many=True)


class RollupAnswerSerializer(CandidateAnswerSerializer):
    rollup = RollupSerializer(allow_null=True, help_text="null until it was first worked out")
